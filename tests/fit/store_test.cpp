// SPDX-License-Identifier: MIT
// Cups of bursts. The hopper of these tests follows the rule that the header states, by its own
// arithmetic: in fine steps along the program as written, or summed by hand for a burst.
#include "meltlag/fit/store.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "gcode/program.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/gcode/blocks.hpp"
#include "meltlag/testpiece/feed.hpp"
#include "motion/support.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::fit;
using namespace meltlag::testpiece;

namespace {

constexpr double offcuts_g_cm3 = 1.24;

FeedOptions store_bench() {
  return {.slicer_diameter_mm = 1.75,
          .limits = motion_test::bench_limits(),
          .max_flow_mm3_s = 8.2,
          .cups_per_flow = 0,
          .density_g_cm3 = offcuts_g_cm3,
          .nozzle_c = 205,
          .store_cups = StoreCups::rising,
          .known = {.delivered_factor = 0.91,
                    .delivered_factor_sd = 0.005,
                    .max_flow_mm3_s = 8.2,
                    .max_flow_sd_mm3_s = 0.1}};
}

struct StoreHopper {
  double factor = 0.91, max_flow_mm3_s = 8.2, burst_mm3 = 1.5;
  double scatter = 0.01;  // relative, cup to cup
  double scale_g = 0.01;
};

// One burst takes what it asks above q out of the store as long as that lasts; then q is all there
// is. By hand: while E runs at its rate the excess is h = f·c − q a second; speeding up from q to
// f·c takes h/(f·s) and asks half as much as the rate would, and slowing down as much again.
double delivered_mm3(StoreHopper const& hopper, StoreCup const& cup) {
  double const all = hopper.factor * cup.commanded_mm3;
  if (cup.burst_s == 0) return all;
  double const h = hopper.factor * cup.burst_mm3_s - hopper.max_flow_mm3_s;
  double const ramp_s = h / (hopper.factor * cup.rise_mm3_s2);
  double const asked = h * cup.burst_s + 2 * (h * ramp_s / 2);
  double const in_vain = std::max(0.0, asked - hopper.burst_mm3);
  return all - cup.bursts * in_vain;
}

std::string weighed(FeedProgram const& program, StoreHopper const& hopper, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> step(-0.5, 0.5);
  std::string sheet =
      "cup,bursts,flow_mm3_s,burst_mm3_s,burst_s,rise_mm3_s2,commanded_mm3,mass_g,note\n";
  for (StoreCup const& cup : program.store_cups) {
    double const mass_g =
        delivered_mm3(hopper, cup) * offcuts_g_cm3 / 1000 * (1 + hopper.scatter * normal(random));
    // Weighed empty and full, each rounded to the scale's step.
    double const empty_g = 5 + hopper.scale_g * step(random);
    auto const shown = [&](double g) { return hopper.scale_g * std::round(g / hopper.scale_g); };
    sheet += fmt::format("{},{},{:.5g},{:.5g},{:.5g},{:.5g},{:.6g},{:.6f},\n",
                         cup.number,
                         cup.bursts,
                         cup.flow_mm3_s,
                         cup.burst_mm3_s,
                         cup.burst_s,
                         cup.rise_mm3_s2,
                         cup.commanded_mm3,
                         shown(empty_g + mass_g) - shown(empty_g));
  }
  return sheet;
}

StoreVerdict judge_store(std::string const& text,
                         StoreKnowledge const& known = store_bench().known,
                         double scale_g = 0.01) {
  Sheet const sheet = Sheet::parse(text, "store.csv");
  return judge_store(read_store_cups(sheet),
                     sheet,
                     {.known = known, .density_g_cm3 = offcuts_g_cm3, .scale_g = scale_g});
}

// The rule in steps of 0.2 ms along the program as a printer plans it: what falls into each cup.
class Run : gcode::MeaningSink, motion::TimedSink {
 public:
  Run(std::string_view text, StoreHopper const& hopper)
      : hopper_(hopper), store_(hopper.burst_mm3), planner_({motion_test::bench_limits()}, *this) {
    Notices notices;
    gcode::Interpreter interpreter({.slicer_diameter_mm = 1.75}, notices);
    gcode::LineSource source = gcode::LineSource::from_text(text, "feed.gcode");
    gcode::for_each_block(source,
                          [&](gcode::Block const& block) { interpreter.interpret(block, *this); });
    planner_.finish();
  }
  // What came out between one pause and the next.
  std::vector<double> between_pauses_mm3{0.0};

 private:
  void on_move(gcode::Move const& move) override { planner_.push(move); }
  void on_setting(gcode::Setting const& setting) override { planner_.push(setting); }
  void on_halt(gcode::Halt const& halt) override { planner_.push(halt); }
  void on_halt(gcode::Halt const& halt, double /*at_s*/) override {
    if (halt.kind == gcode::HaltKind::dwell) return turn(0, halt.dwell_s);
    store_ = hopper_.burst_mm3;
    between_pauses_mm3.push_back(0);
  }
  void on_timed_move(motion::TimedMove const& timed) override {
    if (timed.move.kind != gcode::MoveKind::e_only) return turn(0, timed.speed.duration_s());
    double const area = timed.move.volume_mm3 / timed.move.e_mm, end = timed.speed.duration_s();
    auto const steps = std::max(1.0, std::ceil(end / 2e-4));
    for (double i = 0; i < steps; ++i)
      turn(hopper_.factor * area * timed.speed.speed_at_time((i + 0.5) / steps * end), end / steps);
  }
  void turn(double x_mm3_s, double seconds) {
    double const q = hopper_.max_flow_mm3_s;
    double const u = x_mm3_s <= q || store_ > 0 ? x_mm3_s : q;
    store_ = std::clamp(store_ + (q - u) * seconds, 0.0, hopper_.burst_mm3);
    between_pauses_mm3.back() += u * seconds;
  }

  StoreHopper hopper_;
  double store_;
  motion::Planner planner_;
};

std::string refusal(std::function<void()> const& call) {
  try {
    call();
  } catch (Error const& error) {
    return error.what();
  }
  return "nothing was thrown";
}

}  // namespace

TEST_SUITE("fit") {
  TEST_CASE("cups of bursts and of none come in rounds, at least a hundred bursts in each") {
    FeedProgram const program = plan_feed_program(store_bench());
    REQUIRE(program.store_cups.size() == 10);
    CHECK(program.cups.empty());
    for (StoreCup const& cup : program.store_cups) {
      CHECK(cup.bursts >= 100);
      CHECK_CLOSE(0.91 * cup.burst_mm3_s, 2 * 8.2, 1e-9);
      CHECK(0.91 * cup.flow_mm3_s < 8.2 / 2);
    }
    std::vector<double> excesses;
    for (std::size_t i = 0; i < 5; ++i)
      excesses.push_back(excess_mm3(program.store_cups[i], 0.91, 8.2));
    for (std::size_t i = 0; i < 5; ++i)
      CHECK_NEAR(excesses[i], (std::vector<double>{0, 1, 2, 4, 8}[i]), 1e-9 /*mm³*/);
  }

  TEST_CASE("the program as written brings what the line and its bend say, by fine steps") {
    for (double const store : {0.0, 0.6, 1.5, 3.0, 20.0}) {
      CAPTURE(store);
      FeedOptions options = store_bench();
      options.bursts_per_cup = 100;
      FeedProgram const program = plan_feed_program(options);
      StoreHopper const hopper{.burst_mm3 = store};
      Run const run(program.gcode, hopper);
      // Pauses: homing, heating, the waste cup; then each cup in and out.
      REQUIRE(run.between_pauses_mm3.size() == 4 + 2 * program.store_cups.size());
      for (std::size_t i = 0; i < program.store_cups.size(); ++i) {
        CAPTURE(i);
        double const expected = delivered_mm3(hopper, program.store_cups[i]);
        // A step may draw a little more than the store holds, once for each burst.
        CHECK_CLOSE(run.between_pauses_mm3[4 + 2 * i], expected, 1e-3);
      }
    }
  }

  TEST_CASE("the store lies in its interval as often as that says, on a scale of 0.01 g") {
    FeedProgram const program = plan_feed_program(store_bench());
    constexpr int runs = 200;
    for (double const store : {0.5, 1.5, 3.3}) {
      CAPTURE(store);
      int held = 0, sd_held = 0, told = 0;
      double width = 0;
      for (std::uint32_t seed = 1; seed <= runs; ++seed) {
        // What is known beforehand is off by its own deviation.
        std::mt19937 random(seed + 5000);
        std::normal_distribution<double> normal;
        StoreKnowledge known = store_bench().known;
        known.delivered_factor += 0.005 * normal(random);
        known.max_flow_mm3_s += 0.1 * normal(random);
        StoreVerdict const verdict =
            judge_store(weighed(program, {.burst_mm3 = store}, seed), known);
        held += verdict.low_mm3 <= store && store <= verdict.high_mm3 ? 1 : 0;
        sd_held += std::abs(verdict.burst_mm3 - store) <= 2 * verdict.sd_mm3 ? 1 : 0;
        told += verdict.level == StoreLevel::told ? 1 : 0;
        width += (verdict.high_mm3 - verdict.low_mm3) / 2 / runs;
      }
      CAPTURE(held);
      CAPTURE(sd_held);
      CAPTURE(width);
      CHECK(held >= 0.91 * runs);
      CHECK(held <= 0.99 * runs);
      CHECK(sd_held >= 0.85 * runs);  // two deviations of seven degrees of freedom: 91 % of chances
      CHECK(told >= 0.97 * runs);
      CHECK(width < 0.3 /*mm³*/);
    }
  }

  TEST_CASE("none, more than the longest burst, and what cannot be determined are called so") {
    FeedProgram const program = plan_feed_program(store_bench());
    int none = 0;
    for (std::uint32_t seed = 1; seed <= 100; ++seed) {
      StoreVerdict const verdict = judge_store(weighed(program, {.burst_mm3 = 0}, seed));
      none += verdict.level == StoreLevel::none_seen ? 1 : 0;
      CHECK(verdict.low_mm3 < 0.2);
      CHECK(verdict.high_mm3 < 0.5);
    }
    CHECK(none >= 93);
    StoreVerdict const much = judge_store(weighed(program, {.burst_mm3 = 50}, 1));
    CHECK(much.level == StoreLevel::at_least);
    CHECK(std::isinf(much.high_mm3));
    CHECK_NEAR(much.burst_mm3, 8, 0.05);
    CHECK(much.low_mm3 > 7);
    // With nothing known beforehand the flow for long is not told by cups that never starve.
    StoreVerdict const loose = judge_store(weighed(program, {.burst_mm3 = 50}, 1),
                                           {.delivered_factor = 0.91, .max_flow_mm3_s = 8.2});
    CHECK(loose.level == StoreLevel::at_least);
    CHECK(loose.low_mm3 < 7);
    CHECK(loose.sd_mm3 > 3 * much.sd_mm3);
    StoreVerdict const coarse = judge_store(
        weighed(program, {.scatter = 0.08, .scale_g = 0.5}, 1), store_bench().known, 0.5);
    CHECK(coarse.level == StoreLevel::cannot_tell);
  }

  TEST_CASE("without any deviation known beforehand the cups give factor and flow themselves") {
    FeedProgram const program = plan_feed_program(store_bench());
    StoreKnowledge const off{.delivered_factor = 0.95, .max_flow_mm3_s = 8.6};
    StoreVerdict const verdict =
        judge_store(weighed(program, {.scatter = 0.002, .scale_g = 0.001}, 4), off, 0.001);
    CHECK_NEAR(verdict.burst_mm3, 1.5, 0.15 /*mm³*/);
    CHECK_CLOSE(verdict.max_flow_mm3_s, 8.2, 0.02);
    CHECK_CLOSE(verdict.delivered_factor, 0.91, 0.005);
    CHECK(verdict.level == StoreLevel::told);
  }

  TEST_CASE("bursts are as many as the scale needs, and where none suffice that is said") {
    FeedOptions options = store_bench();
    CHECK(plan_feed_program(options).store_cups[0].bursts == 100);
    CHECK(plan_feed_program(options).store_plus_minus_mm3 < 0.2);
    options.scale_g = 0.2;
    FeedProgram const coarse = plan_feed_program(options);
    CHECK(coarse.store_cups[0].bursts > 100);
    CHECK(coarse.store_plus_minus_mm3 <= useful_store_mm3);
    options.scale_g = 1;
    std::string const message = refusal([&] { (void)plan_feed_program(options); });
    CHECK(message.starts_with(
        "cannot tell the store: 500 bursts in a cup and a scale that resolves 1 g would leave ± "));
    CHECK(message.find("take a scale that resolves 0.1 g") != std::string::npos);
    options.scale_g = 0.2;
    options.bursts_per_cup = 100;
    CHECK(refusal([&] { (void)plan_feed_program(options); }).find("or leave --bursts out") !=
          std::string::npos);
  }

  TEST_CASE(
      "bursts keep below the most that is fed in one, and are refused where that is too low") {
    FeedOptions options = store_bench();
    options.known.max_burst_mm3_s = 14;
    CHECK_CLOSE(0.91 * plan_feed_program(options).store_cups[1].burst_mm3_s, 0.95 * 14, 1e-9);
    options.burst_to_mm3_s = 13;
    CHECK_CLOSE(plan_feed_program(options).store_cups[1].burst_mm3_s, 13, 1e-9);
    options.burst_to_mm3_s = 10;
    CHECK(refusal([&] {
            (void)plan_feed_program(options);
          }).starts_with("cannot tell the store: bursts could only run at 9.1 mm³/s delivered"));
    options = store_bench();
    options.limits.retract_acceleration_mm_s2 = 1;
    CHECK(refusal([&] { (void)plan_feed_program(options); }).find("speeds up too slowly") !=
          std::string::npos);
  }

  TEST_CASE("the sheet comes back with each cup's numbers, and faults in it are placed") {
    FeedProgram const program = plan_feed_program(store_bench());
    std::string const empty = store_sheet(program);
    CHECK(
        empty.starts_with("cup,bursts,flow_mm3_s,burst_mm3_s,burst_s,rise_mm3_s2,commanded_mm3,"
                          "mass_g,note\n1,100,"));
    CHECK(read_store_cups(Sheet::parse(empty, "store.csv")).empty());
    std::string const full = weighed(program, {}, 1);
    auto const cups = read_store_cups(Sheet::parse(full, "store.csv"));
    REQUIRE(cups.size() == 10);
    CHECK(cups[0].cup.burst_s == 0);
    CHECK_CLOSE(cups[1].cup.commanded_mm3, program.store_cups[1].commanded_mm3, 1e-5);
    auto const fault = [](std::string const& row) {
      std::string const head =
          "cup,bursts,flow_mm3_s,burst_mm3_s,burst_s,rise_mm3_s2,commanded_mm3,mass_g\n";
      std::string const message = refusal([&] { (void)judge_store(head + row); });
      return message.substr(0, message.find('\n'));
    };
    CHECK(fault("1,100.5,2,18,0,12000,330,0.4\n") ==
          "store.csv:2:2: bursts is 100.5, no whole number");
    CHECK(fault("1,100,2,18,-1,12000,330,0.4\n") == "store.csv:2:5: burst_s is -1");
    CHECK(fault("1,100,2,18,,12000,330,0.4\n") == "store.csv:2:5: burst_s is missing in this row");
    CHECK(fault("1,100,2,18,0,12000,330,much\n") ==
          "store.csv:2:8: 'much' in column mass_g is not a number");
    CHECK(fault("1,100,2,18,0,12000,330,0.4\n1,100,2,18,0,12000,330,0.4\n") ==
          "store.csv:3:1: cup 1 is given twice");
    CHECK(fault("1,100,2,18,0,12000,330,0.4\n") ==
          "store.csv: 1 cup with a mass is too few to tell the store");
    std::string same, heavy;
    for (int cup = 1; cup <= 7; ++cup) {
      same += fmt::format("{},100,2,18,0.1,12000,330,0.4\n", cup);
      heavy += fmt::format("{},100,2,18,0.{},12000,330,{}\n", cup, cup, cup == 3 ? 400 : 0.3);
    }
    CHECK(fault(same) == "store.csv: the cups hold bursts of too few lengths");
    CHECK(fault(heavy) == "store.csv:4:8: cup 3 holds 978 times what was commanded");
    StoreKnowledge slow = store_bench().known;
    slow.max_burst_mm3_s = 12;
    CHECK(refusal([&] { (void)judge_store(full, slow); })
              .starts_with("store.csv:2:4: the bursts ask for 16.4 mm³/s delivered, more than the "
                           "12 mm³/s that the screw feeds in a burst"));
  }
}
