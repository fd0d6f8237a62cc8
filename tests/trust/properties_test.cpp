// SPDX-License-Identifier: MIT
// What holds for every part and every machine, tried on random ones. The judge is the reference,
// which shares nothing with the rewriter. RC_PARAMS sets seed and number.
#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <array>
#include <cmath>
#include <locale>
#include <numbers>

#include "../adapt/adapt_sample.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

// One step of a part: where to, how fast, and how.
struct Step {
  enum Kind { print, hop, travel, dwell, ring } kind = print;
  double x_mm = 0, y_mm = 0, speed_mm_s = 30;
};

std::ostream& operator<<(std::ostream& out, Step const& step) {
  return out << "{" << step.kind << ", " << step.x_mm << ", " << step.y_mm << ", "
             << step.speed_mm_s << "}";
}

rc::Gen<Step> any_step() {
  using namespace rc;
  return gen::construct<Step>(gen::weightedElement<Step::Kind>({{12, Step::print},
                                                                {3, Step::hop},
                                                                {1, Step::travel},
                                                                {1, Step::dwell},
                                                                {2, Step::ring}}),
                              gen::map(gen::inRange(0, 1201), [](int n) { return 10 + 0.05 * n; }),
                              gen::map(gen::inRange(0, 1201), [](int n) { return 10 + 0.05 * n; }),
                              gen::map(gen::inRange(3, 13), [](int n) { return 5.0 * n; }));
}

using Steps = std::vector<Step>;

rc::Gen<Steps> any_part() {
  return rc::gen::mapcat(rc::gen::inRange<std::size_t>(2, 40),
                         [](std::size_t n) { return rc::gen::container<Steps>(n, any_step()); });
}

void write_ring(PartWriter& out, Step const& step) {
  constexpr int segments = 16;
  for (int i = 1; i <= segments; ++i) {
    double const angle = 2 * std::numbers::pi * i / segments;
    out.print(
        step.x_mm + 3 * std::cos(angle) - 3, step.y_mm + 3 * std::sin(angle), step.speed_mm_s);
  }
}

std::string written(Steps const& steps, Sheet const& sheet = {}) {
  PartWriter out(sheet);
  out.travel(10, 10);
  for (Step const& step : steps) {
    switch (step.kind) {
      case Step::print:
        out.print(step.x_mm, step.y_mm, step.speed_mm_s);
        break;
      case Step::hop:
        out.hop(step.x_mm, step.y_mm);
        break;
      case Step::travel:
        out.travel(step.x_mm, step.y_mm);
        break;
      case Step::dwell:
        out.line("G4 P300");
        break;
      case Step::ring:
        out.print(step.x_mm, step.y_mm, step.speed_mm_s);
        write_ring(out, step);
        break;
    }
  }
  out.print(15, 15, 30);  // some plastic is always wanted
  out.print(45, 15, 30);
  return out.text();
}

// The first line that travels becomes one that only says where the head is: else a part further
// away leaves more time to fill the nozzle.
std::string begun_in_place(std::string text) {
  std::size_t const at = text.find("G0 X"), f = text.find(" F", at);
  text.erase(f, text.find('\n', f) - f);
  return text.replace(at, 2, "G92");
}

rc::Gen<melt::PlantParameters> any_plant() {
  using namespace rc;
  return gen::apply(
      [](int lag, int index, int factor, int reverse) {
        auto plant = plant_of(0.05 * lag, 0.1 * index);
        plant.feed.delivered_factor = 0.01 * factor;
        plant.feed.reverse_factor = 0.1 * reverse;
        return plant;
      },
      gen::inRange(1, 25),
      gen::inRange(4, 11),
      gen::inRange(80, 121),
      gen::inRange(5, 11));
}

double misplaced_percent(std::string const& original,
                         std::string const& emitted,
                         melt::PlantParameters const& plant) {
  return meltlag_reference::judge(original, emitted, reference_plant(plant), {}).misplaced_percent;
}

// As the command emits it: repaired where the check finds a limit broken, never worse than the flow
// setting.
std::string adapted(std::string const& text,
                    melt::PlantParameters const& plant,
                    int window_cuts = 1500) {
  auto options = options_for(plant);
  options.window_cuts = window_cuts;
  return adapt_repaired(text, options).text;
}

std::string adapted_in_time(std::string const& text,
                            melt::PlantParameters const& plant,
                            double extra_share) {
  return adapt_repaired(text, options_for(plant), {.extra_share = extra_share, .target = {}}).text;
}

void holds(char const* what, auto const& property) { CHECK(rc::check(what, property)); }

}  // namespace

TEST_SUITE("trust") {
  TEST_CASE("every promise is kept on random parts and machines, and nothing gets worse") {
    holds("promises", [] {
      std::string const text = written(*any_part());
      auto const plant = *any_plant();
      std::string const out = adapted(text, plant);
      std::string const broken = all_of(broken_promises(text, out, plant));
      RC_ASSERT(broken == "");
      RC_ASSERT(misplaced_percent(text, out, plant) <= misplaced_percent(text, text, plant) + 0.1);
    });
  }

  TEST_CASE("a program that writes decimal commas gets the same bytes from the library") {
    struct Commas : std::numpunct<char> {
      char do_decimal_point() const override { return ','; }
      char do_thousands_sep() const override { return '.'; }
      std::string do_grouping() const override { return "\3"; }
    };
    auto const options = options_for(plant_of(0.3, 0.5));
    std::string const usual = adapt_text(bench_part(), options).text;
    std::locale const before = std::locale::global(std::locale(std::locale::classic(), new Commas));
    std::string const commas = adapt_text(bench_part(), options).text;
    std::locale::global(before);
    CHECK(commas == usual);
  }

  TEST_CASE("the same file and machine give the same bytes") {
    holds("determinism", [] {
      std::string const text = written(*any_part());
      auto const plant = *any_plant();
      RC_ASSERT(adapt_text(text, options_for(plant)).text ==
                adapt_text(text, options_for(plant)).text);
    });
  }

  TEST_CASE("without lag the file comes back as it was, under one comment line") {
    holds("no lag", [] {
      std::string const text = written(*any_part());
      auto plant = plant_of(1e-7, 1);
      RC_ASSERT(adapt_text(text, options_for(plant)).text == std::string(marker) + "\n" + text);
    });
  }

  TEST_CASE("a part that is mirrored and moved is adapted as well as it was") {
    holds("mirror", [] {
      Steps const steps = *any_part();
      auto const plant = *any_plant();
      std::string const here = begun_in_place(written(steps));
      std::string const there =
          begun_in_place(written(steps, {.x_sign = -1, .x_mm = 150, .y_mm = 20}));
      RC_ASSERT(std::abs(misplaced_percent(here, adapted(here, plant), plant) -
                         misplaced_percent(there, adapted(there, plant), plant)) < 0.1);
    });
  }

  TEST_CASE("inches and absolute E mean the same as millimetres and relative E") {
    holds("units", [] {
      Steps const steps = *any_part();
      auto const plant = *any_plant();
      std::string const usual = written(steps);
      double const expected = misplaced_percent(usual, adapted(usual, plant), plant);
      for (Sheet const sheet : {Sheet{.unit = Unit::inch},
                                Sheet{.e = ECount::absolute},
                                Sheet{.unit = Unit::inch, .e = ECount::absolute}}) {
        std::string const text = written(steps, sheet);
        RC_ASSERT(std::abs(misplaced_percent(text, adapted(text, plant), plant) - expected) < 0.1);
      }
    });
  }

  TEST_CASE("time that is granted breaks no promise, makes nothing worse, gives the same bytes") {
    holds("pace", [] {
      std::string const text = written(*any_part());
      auto const plant = *any_plant();
      double const extra = *rc::gen::element(0.05, 0.15, 0.6);
      std::string const out = adapted_in_time(text, plant, extra);
      RC_ASSERT(adapted_in_time(text, plant, extra) == out);
      std::string const broken = all_of(broken_promises(text, out, plant, {.extra_time = extra}));
      RC_ASSERT(broken == "");
      auto figures = bench_options();
      figures.plant = plant;
      figures.extra_time = extra;
      figures.speeds = judge::Speeds::lowered;
      RC_ASSERT(judge_texts(text, out, figures).violation_count == 0);
      RC_ASSERT(misplaced_percent(text, out, plant) <=
                misplaced_percent(text, adapted(text, plant), plant) + 0.1);
    });
  }

  TEST_CASE("windows lose nearly nothing against the whole file at once" *
            doctest::test_suite("trust/study")) {
    struct Size {
      int cuts;
      double most_lost, most_lost_thinning;  // points; the latter for a flow index below 0.55
      double sum = 0;
    };
    // The size in use, and one that is too small. A flow index far below 1, and the order in which
    // the screw uses what it has, have optima of their own in each window: either may be better.
    Size sizes[] = {{1500, 0.1, 0.35}, {400, 0.6, 0.35}};
    int tried = 0;
    holds("windows", [&] {
      Steps steps = *any_part();
      for (int i = 0; i < 3; ++i) steps.insert(steps.end(), steps.begin(), steps.end());
      auto const plant = *any_plant();
      std::string const text = written(steps);
      double const whole = misplaced_percent(text, adapted(text, plant, 100000), plant);
      for (Size& size : sizes) {
        double const lost = misplaced_percent(text, adapted(text, plant, size.cuts), plant) - whole;
        size.sum += lost;
        bool const thinning = plant.law.flow_index < 0.55;
        RC_ASSERT(lost < (thinning ? size.most_lost_thinning : size.most_lost));
      }
      ++tried;
    });
    REQUIRE(tried > 0);
    constexpr double most_lost_on_average = 0.05;
    for (Size const& size : sizes) CHECK(size.sum / tried < most_lost_on_average);
  }

  TEST_CASE("an arc is adapted as well as the fine chords that make it up") {
    holds("arcs", [] {
      double const radius = *rc::gen::map(rc::gen::inRange(5, 30), [](int n) { return 1.0 * n; });
      double const speed = *rc::gen::map(rc::gen::inRange(3, 9), [](int n) { return 5.0 * n; });
      auto const plant = *any_plant();
      PartWriter arc, chords;
      double const length = 2 * std::numbers::pi * radius;
      for (PartWriter* out : {&arc, &chords}) {
        out->travel(50 + radius, 50);
        out->print(50 + radius, 20, speed);
        out->print(50 + radius, 50, speed);
      }
      arc.line("G3 X" + std::to_string(50 + radius) + " Y50 I-" + std::to_string(radius) + " J0 E" +
               std::to_string(0.09 * length));
      int const count = static_cast<int>(std::ceil(length / 0.5));
      for (int i = 1; i <= count; ++i) {
        double const angle = 2 * std::numbers::pi * i / count;
        chords.print(50 + radius * std::cos(angle), 50 + radius * std::sin(angle), speed);
      }
      for (PartWriter* out : {&arc, &chords}) out->print(50 + radius, 20, speed);
      double const a = misplaced_percent(arc.text(), adapted(arc.text(), plant), plant);
      double const b = misplaced_percent(chords.text(), adapted(chords.text(), plant), plant);
      RC_ASSERT(std::abs(a - b) < 0.5);
    });
  }
}
