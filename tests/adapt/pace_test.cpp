// SPDX-License-Identifier: MIT
// What print time buys, told by the slow reference from the emitted text alone.
#include "meltlag/adapt/pace.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <array>
#include <atomic>
#include <random>
#include <tuple>

#include "adapt_sample.hpp"
#include "meltlag/adapt/adapt_file.hpp"
#include "support/near.hpp"
#include "support/sanitizers.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

double misplaced_percent(std::string const& original,
                         std::string const& emitted,
                         melt::PlantParameters const& plant) {
  return meltlag_reference::judge(original, emitted, reference_plant(plant), {}).misplaced_percent;
}

double planned_s(std::string const& text, melt::PlantParameters const& plant) {
  return meltlag_reference::judge(text, text, reference_plant(plant), {}).planned_s;
}

std::vector<std::string> broken(std::string const& original,
                                std::string const& emitted,
                                melt::PlantParameters const& plant,
                                double extra) {
  meltlag_reference::InvariantOptions options;
  options.extra_time = extra;
  auto list =
      meltlag_reference::check_invariants(original, emitted, reference_plant(plant), {}, options);
  std::erase_if(list, [](std::string const& text) {
    double is_s = 0, should_s = 0;
    return std::sscanf(
               text.c_str(), "the screw slows the head: %lf s against %lf s", &is_s, &should_s) ==
               2 &&
           is_s < should_s;
  });
  return list;
}

// Our part, adapted with time granted.
struct Paced {
  std::string original, plain, emitted;
  adapt::TradePoint point;
  double extra = 0;
};

Paced pace(Sheet const& sheet, adapt::PassOptions options, double granted) {
  Paced out;
  out.original = bench_part(sheet);
  TemporaryFile const file(out.original);
  adapt::TradeCurve curve(file.path(), options);
  out.point = curve.within(granted);
  out.extra = curve.extra_share(out.point);
  out.plain = adapt_text(out.original, options).text;
  options.price_mm3_per_s = out.point.price_mm3_per_s;
  out.emitted = adapt_text(out.original, options).text;
  return out;
}

// The greatest F of a text, in mm/s.
double greatest_feed(std::string const& text) {
  double most = 0;
  for (std::string const& line : lines_of(text)) {
    std::size_t const at = line.find('F');
    if (line.starts_with('G') && at != std::string::npos)
      most = std::max(most, std::stod(line.substr(at + 1)) / 60);
  }
  return most;
}

double least_feed(std::string const& text) {
  double least = 1e9;
  for (std::string const& line : lines_of(text)) {
    std::size_t const at = line.find('F');
    if (line.starts_with('G') && at != std::string::npos)
      least = std::min(least, std::stod(line.substr(at + 1)) / 60);
  }
  return least;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("time granted is spent where it lets the flow follow, and kept to") {
    for (double const flow_index : {1.0, 0.5}) {
      CAPTURE(flow_index);
      auto const plant = plant_of(1.0, flow_index);
      double before = 1e9;
      for (double const granted : {0.05, 0.15, 0.40}) {
        CAPTURE(granted);
        Paced const paced = pace({}, options_for(plant), granted);
        double const plain = misplaced_percent(paced.original, paced.plain, plant);
        double const with = misplaced_percent(paced.original, paced.emitted, plant);
        MESSAGE(fmt::format("n {}: +{:.1f} %: misplaced {:.2f} -> {:.2f} %",
                            flow_index,
                            100 * paced.extra,
                            plain,
                            with));
        constexpr double noise = 0.02;  // points: where nothing is left to gain
        CHECK(with <= before + noise);
        before = with;
        CHECK(with < (granted < 0.1 ? 0.75 : 0.35) * plain);
        auto const list = broken(paced.original, paced.emitted, plant, granted);
        CHECK_MESSAGE(list.empty(), all_of(list));
        // Counted from the file as sliced, whatever the pass without pace takes.
        double const sliced_s = planned_s(paced.original, plant);
        CHECK(planned_s(paced.emitted, plant) <= sliced_s * (1 + granted) * 1.001);
        bool const saturated = granted > 0.2;
        CHECK((saturated || planned_s(paced.emitted, plant) > sliced_s * (1 + 0.8 * granted)));
        CHECK_CLOSE(planned_s(paced.emitted, plant), sliced_s * (1 + paced.extra), 0.002);
        CHECK(greatest_feed(paced.emitted) <= greatest_feed(paced.original));
      }
    }
  }

  TEST_CASE("where stops are absorbed, the time that they took is granted as well") {
    auto const plant = plant_of(1.0, 1.0);
    auto options = options_for(plant);
    options.stops = adapt::StopPolicy::absorbed;
    Paced const paced = pace({}, options, 0.05);
    double const sliced_s = planned_s(paced.original, plant);
    CHECK(planned_s(paced.plain, plant) < 0.99 * sliced_s);
    CHECK(planned_s(paced.emitted, plant) <= 1.05 * sliced_s * 1.001);
    CHECK(planned_s(paced.emitted, plant) > 1.03 * sliced_s);
    auto const list = broken(paced.original, paced.emitted, plant, 0.05);
    CHECK_MESSAGE(list.empty(), all_of(list));
  }

  TEST_CASE("a file that would take more than was granted is paced again, not given up") {
    TemporaryFile const file(bench_part());
    auto options = options_for(plant_of(1.0, 1.0));
    adapt::TradeCurve curve(file.path(), options);
    OutputFile output("-");
    Notices unused;
    auto const result = adapt::adapt_file(file.path(),
                                          {.adapt = options,
                                           .time = {.extra_share = 0.15},
                                           .price_mm3_per_s = curve.within(0.155).price_mm3_per_s},
                                          output,
                                          unused);
    CHECK(result.outcome == adapt::Outcome::adapted);
    double const sliced_s = result.judgement.before.planned_s;
    CHECK(result.judgement.after.planned_s > 1.1 * sliced_s);
    CHECK(result.judgement.after.planned_s <= 1.15 * sliced_s * 1.001);
  }

  TEST_CASE("pace keeps its promises in inches, absolute E and mirrored parts") {
    auto const plant = plant_of(1.0, 1.0);
    for (Sheet const& sheet : {Sheet{Unit::inch, ECount::relative},
                               Sheet{Unit::millimetre, ECount::absolute},
                               Sheet{Unit::inch, ECount::absolute, -1, 50, 3}}) {
      Paced const paced = pace(sheet, options_for(plant), 0.15);
      auto const list = broken(paced.original, paced.emitted, plant, 0.15);
      CHECK_MESSAGE(list.empty(), all_of(list));
      CHECK(misplaced_percent(paced.original, paced.emitted, plant) <
            0.35 * misplaced_percent(paced.original, paced.plain, plant));
    }
  }

  TEST_CASE("no move is paced below the least speed") {
    auto options = options_for(plant_of(1.0, 1.0));
    CHECK(least_feed(pace({}, options, 0.4).emitted) < 14);
    options.min_speed_mm_s = 15;
    CHECK(least_feed(pace({}, options, 0.4).emitted) >= 15 - 0.02);
  }

  TEST_CASE("lines that rely on the F before them are driven as before") {
    // A kept purge and a macro follow slowed moves without an F of their own.
    std::string part = bench_part();
    std::size_t const end = part.rfind("G1 E-1");
    part.insert(end, "G1 E20\nG1 X60 Y60\nT1\nG1 X70 Y60 E1\nG1 X10 Y60 E5\n");
    auto const plant = plant_of(1.0, 1.0);
    auto options = options_for(plant);
    TemporaryFile const file(part);
    adapt::TradeCurve curve(file.path(), options);
    adapt::TradePoint const point = curve.within(0.3);
    options.price_mm3_per_s = point.price_mm3_per_s;
    std::string const emitted = adapt_text(part, options).text;
    auto const list = broken(part, emitted, plant, 0.3);
    CHECK_MESSAGE(list.empty(), all_of(list));
    CHECK_CLOSE(planned_s(emitted, plant), point.info.path_s, 0.01);
  }

  TEST_CASE("a pass counts dwells, those before the first move too") {
    auto const plant = plant_of(1.0, 1.0);
    std::string part = "G4 S30\n" + bench_part();
    part.insert(part.rfind("G1 E-1"), "G4 P2500\n");
    Adapted const adapted = adapt_text(part, options_for(plant));
    CHECK_CLOSE(planned_s(adapted.text, plant), adapted.info.path_s, 0.001);
  }

  TEST_CASE("windows hand the head on at the speed that was planned") {
    // Twelve parts one upon the other: several windows.
    std::string part;
    for (int i = 0; i < 12; ++i) part += bench_part({.x_mm = 0.5 * i});
    auto const plant = plant_of(1.0, 0.5);
    auto options = options_for(plant);
    options.price_mm3_per_s = 0.8;
    Adapted const adapted = adapt_text(part, options);
    auto const list = broken(part, adapted.text, plant, 0.5);
    CHECK_MESSAGE(list.empty(), all_of(list));
    CHECK_CLOSE(planned_s(adapted.text, plant), adapted.info.path_s, 0.01);
    double const share = 100 * adapted.info.misplaced_mm3 / adapted.info.wanted_mm3;
    CHECK_NEAR(misplaced_percent(part, adapted.text, plant), share, 0.2);
  }

  TEST_CASE("a sample of the windows tells what a price brings") {
    std::string part;
    for (int i = 0; i < 32; ++i) part += bench_part({.x_mm = 0.5 * i, .y_mm = 3.0 * (i % 5)});
    auto options = options_for(plant_of(1.0, 1.0));
    options.window_cuts = 300;
    struct Shares {
      double extra, misplaced;
    };
    auto const shares = [&](int every) {
      options.sample_every = every;
      options.price_mm3_per_s = 0;
      adapt::AdaptInfo const base = adapt_text(part, options).info;
      options.price_mm3_per_s = 1;
      adapt::AdaptInfo const info = adapt_text(part, options).info;
      CHECK(info.windows == base.windows);
      return Shares{info.path_s / base.path_s - 1, info.misplaced_mm3 / info.wanted_mm3};
    };
    Shares const all = shares(1), some = shares(4);
    CHECK(all.extra > 0.03);
    CHECK_CLOSE(some.extra, all.extra, 0.15);
    CHECK_CLOSE(some.misplaced, all.misplaced, 0.3);
  }

  TEST_CASE("one search serves several grants, each kept to and nearly used up") {
    std::string part;
    constexpr int copies = sanitized ? 5 : 16;
    for (int i = 0; i < copies; ++i) part += bench_part({.x_mm = 0.5 * i, .y_mm = 3.0 * (i % 5)});
    auto options = options_for(plant_of(1.0, 1.0));
    options.window_cuts = sanitized ? 120 : 300;  // windows enough for a sample
    TemporaryFile const file(part);
    std::atomic<int> passes = 0;
    adapt::TradeCurve curve(file.path(), options, [&](double price) {
      ++passes;
      adapt::PassOptions own = options;
      own.price_mm3_per_s = price;
      Notices unused;
      return adapt::adapt_pass(
          file.path(), own, [](std::string_view) {}, unused);
    });
    constexpr std::array grants{0.03, 0.06, 0.09};  // a tenth already buys all there is
    curve.spend({grants.begin(), grants.end()}, 0.9);
    for (double const grant : grants) {
      CAPTURE(grant);
      double const extra = curve.extra_share(curve.best_within(grant));
      CHECK(extra <= grant);
      CHECK(extra >= 0.85 * grant);
    }
    CHECK(passes <= 8);  // whole ones; the estimates are beside them
  }

  TEST_CASE("a target takes the least time that reaches it, and says when none does") {
    auto const plant = plant_of(1.0, 1.0);
    std::string const part = bench_part();
    TemporaryFile const file(part);
    adapt::TradeCurve curve(file.path(), options_for(plant));
    double const unpaced = curve.unpaced().misplaced_share();
    adapt::TradePoint const half = curve.reaching(unpaced / 2);
    CHECK(half.misplaced_share() <= unpaced / 2);
    adapt::TradePoint const quarter = curve.reaching(unpaced / 4);
    CHECK(quarter.misplaced_share() <= unpaced / 4);
    CHECK(half.info.path_s < quarter.info.path_s);
    CHECK(curve.reaching(2 * unpaced).price_mm3_per_s == 0);
    CHECK(curve.reaching(1e-9).misplaced_share() > 1e-9);
  }

  TEST_CASE("a layer that keeps its time takes as long as before") {
    auto const plant = plant_of(0.3, 1.0);
    std::string const part = bench_part();
    double const before = planned_s(part, plant);
    for (auto const stops : {adapt::StopPolicy::kept, adapt::StopPolicy::absorbed}) {
      CAPTURE(static_cast<int>(stops));
      auto options = options_for(plant);
      options.stops = stops;
      double const shorter_s = stops == adapt::StopPolicy::kept ? 0.1 : 0.2;
      CHECK(planned_s(adapt_text(part, options).text, plant) < before - shorter_s);
      options.layer_time = adapt::LayerTime::kept;
      std::string const kept = adapt_text(part, options).text;
      CHECK_NEAR(planned_s(kept, plant), before, 0.05);
      auto const list = broken(part, kept, plant, 0.005);
      CHECK_MESSAGE(list.empty(), all_of(list));
    }
  }

  TEST_CASE("a schedule for an uncertain lag is better on average and loses little as believed" *
            doctest::test_suite("adapt/study")) {
    std::string const part = bench_part();
    TemporaryFile const file(part);
    for (auto const& row : {std::tuple{1.0, 0.5, 0.0}, {0.3, 1.0, 0.0}, {1.0, 1.0, 0.15}}) {
      auto const lag_s = std::get<0>(row), flow_index = std::get<1>(row),
                 granted = std::get<2>(row);
      CAPTURE(lag_s);
      CAPTURE(flow_index);
      CAPTURE(granted);
      auto const plant = plant_of(lag_s, flow_index);
      auto options = options_for(plant);
      if (granted > 0) {
        adapt::TradeCurve curve(file.path(), options);
        options.price_mm3_per_s = curve.within(granted).price_mm3_per_s;
      }
      std::string const plain = adapt_text(part, options).text;
      options.spread = {.run_on_share_sd = 0.3, .flow_index_sd = 0.12};
      std::string const robust = adapt_text(part, options).text;
      double mean_plain = 0, mean_robust = 0;
      constexpr int draws = 100;
      std::mt19937 random(11);
      std::normal_distribution<double> normal;
      for (int i = 0; i < draws; ++i) {
        auto drawn = plant;
        drawn.law.run_on_mm3 *= std::max(0.1, 1 + 0.3 * normal(random));
        drawn.law.flow_index = std::max(0.15, drawn.law.flow_index + 0.12 * normal(random));
        mean_plain += misplaced_percent(part, plain, drawn) / draws;
        mean_robust += misplaced_percent(part, robust, drawn) / draws;
      }
      double const believed = misplaced_percent(part, plain, plant);
      double const loses = misplaced_percent(part, robust, plant) / believed - 1;
      MESSAGE(fmt::format("mean {:.2f} -> {:.2f} %, {:.1f} % worse as believed",
                          mean_plain,
                          mean_robust,
                          100 * loses));
      CHECK(mean_robust < mean_plain);
      CHECK(loses < 0.1);
      auto const list = broken(part, robust, plant, granted);
      CHECK_MESSAGE(list.empty(), all_of(list));
    }
  }
}
