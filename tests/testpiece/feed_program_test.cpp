// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "gcode/program.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/gcode/blocks.hpp"
#include "meltlag/testpiece/feed.hpp"
#include "motion/support.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testpiece;

namespace {

FeedOptions bench() {
  return {.slicer_diameter_mm = 1.75, .limits = motion_test::bench_limits(), .nozzle_c = 205};
}

// The program as a printer plans it.
struct Driven : gcode::MeaningSink {
  motion_test::Caught caught;
  motion::Planner planner;
  std::vector<gcode::Halt> halts;

  explicit Driven(std::string_view text)
      : planner({.limits = motion_test::bench_limits()}, caught) {
    Notices notices;
    gcode::Interpreter interpreter({.slicer_diameter_mm = 1.75}, notices);
    gcode::LineSource source = gcode::LineSource::from_text(text, "feed.gcode");
    gcode::for_each_block(source,
                          [&](gcode::Block const& block) { interpreter.interpret(block, *this); });
    planner.finish();
    for (Notice const& notice : notices.list()) CAPTURE(notice.text);
    CHECK(notices.list().empty());
  }
  void on_move(gcode::Move const& move) override { planner.push(move); }
  void on_halt(gcode::Halt const& halt) override {
    planner.push(halt);
    halts.push_back(halt);
  }
  void on_setting(gcode::Setting const& setting) override { planner.push(setting); }
};

std::string refusal(FeedOptions const& options) {
  try {
    (void)make_feed_program(options);
  } catch (Error const& error) {
    return error.what();
  }
  return "nothing was thrown";
}

}  // namespace

TEST_SUITE("testpiece") {
  TEST_CASE("ten cups at each of three flows come in rounds that hold every flow once") {
    FeedOptions options = bench();
    options.flows_mm3_s = {8, 2, 4};
    FeedProgram const program = make_feed_program(options);
    REQUIRE(program.cups.size() == 30);
    int as_before = 0;
    for (std::size_t round = 0; round < 10; ++round) {
      std::vector<double> flows;
      for (std::size_t i = 3 * round; i < 3 * round + 3; ++i) {
        CHECK(program.cups[i].number == static_cast<int>(i) + 1);
        flows.push_back(program.cups[i].flow_mm3_s);
      }
      as_before += std::ranges::is_sorted(flows) ? 1 : 0;
      std::ranges::sort(flows);
      CHECK(flows == std::vector<double>{2, 4, 8});
    }
    CHECK(as_before < 10);
  }

  TEST_CASE("the first round rises, so that the lowest flow that makes a fault is heard first") {
    for (std::uint32_t seed = 1; seed <= 5; ++seed) {
      FeedOptions options = bench();
      options.seed = seed;
      FeedProgram const program = make_feed_program(options);
      REQUIRE(program.cups.size() == 32);
      for (std::size_t i = 1; i < 8; ++i)
        CHECK(program.cups[i].flow_mm3_s > program.cups[i - 1].flow_mm3_s);
    }
  }

  TEST_CASE("the order is that of the seed") {
    FeedOptions other = bench();
    other.seed = 2;
    CHECK(make_feed_program(bench()).gcode == make_feed_program(bench()).gcode);
    CHECK(cup_sheet(make_feed_program(bench())) != cup_sheet(make_feed_program(other)));
  }

  TEST_CASE("the screw turns without a stop for a cup's time and brings what the sheet says") {
    FeedOptions options = bench();
    options.flows_mm3_s = {3, 12};
    options.cups_per_flow = 2;
    FeedProgram const program = make_feed_program(options);
    Driven const driven(program.gcode);
    std::vector<motion::TimedMove> const& moves = driven.caught.moves;
    std::size_t at = 2;  // up, over
    double const area = 2.40528188, priming = 12 * 60 / area;
    double e_mm = 0;
    auto const run_of = [&](double wanted_mm) {  // moves from standstill to standstill
      double volume = 0, start_s = moves[at].start_s;
      CHECK(moves[at].speed.entry_mm_s == 0);
      for (e_mm = 0; e_mm < wanted_mm - 0.01; ++at) {
        REQUIRE(moves[at].move.kind == gcode::MoveKind::e_only);
        CHECK(moves[at].move.e_mm <= 100.00001);
        if (e_mm > 0) CHECK_CLOSE(moves[at].speed.entry_mm_s, moves[at].move.feed_mm_s, 1e-9);
        e_mm += moves[at].move.e_mm;
        volume += moves[at].move.volume_mm3;
      }
      CHECK(moves[at - 1].speed.exit_mm_s == 0);
      CHECK_NEAR(e_mm, wanted_mm, 1e-4 /*mm*/);
      double const end_s = moves[at - 1].start_s + moves[at - 1].speed.duration_s();
      return std::pair{volume, end_s - start_s};
    };
    run_of(priming);
    for (Cup const& cup : program.cups) {
      CAPTURE(cup.number);
      run_of(cup.flow_mm3_s * 10 / area);
      auto const [volume, seconds] = run_of(cup.flow_mm3_s * 60 / area);
      CHECK_CLOSE(volume, cup.commanded_mm3, 1e-9);
      CHECK_CLOSE(cup.commanded_mm3, cup.flow_mm3_s * 60, 1e-5);
      CHECK_NEAR(seconds, 60, 0.02 /*s*/);
    }
    CHECK(at == moves.size());
    double const travel_s = moves[2].start_s;
    CHECK_CLOSE(driven.planner.time_s() - travel_s, program.planned_s, 1e-3);
    CHECK_CLOSE(program.plastic_mm3, 720 + 30 * 70, 1e-4);
  }

  TEST_CASE("the head goes up before it goes over, within its limits") {
    FeedOptions options = bench();
    options.park_x_mm = 5;
    options.park_y_mm = 190;
    options.park_z_mm = 80;
    options.travel_mm_s = 500;
    Driven const driven(make_feed_program(options).gcode);
    gcode::Move const& up = driven.caught.moves[0].move;
    gcode::Move const& over = driven.caught.moves[1].move;
    CHECK(up.end_mm.z == 80);
    CHECK(up.end_mm.x == 0);
    CHECK(over.end_mm.x == 5);
    CHECK(over.end_mm.y == 190);
    CHECK(up.feed_mm_s <= 10);
    CHECK(over.feed_mm_s <= 200);
  }

  TEST_CASE("cups are swapped at pauses, or at beeps with a stated time") {
    FeedOptions options = bench();
    options.cups_per_flow = 1;
    auto const waits = [](std::string const& gcode) {
      Driven const driven(gcode);
      return std::ranges::count_if(
          driven.halts, [](gcode::Halt const& h) { return h.kind == gcode::HaltKind::wait; });
    };
    FeedProgram const paused = make_feed_program(options);
    CHECK(waits(paused.gcode) == 2 + 1 + 2 * 8);  // G28, M109; the waste cup; in and out
    options.swap = CupSwap::dwell;
    FeedProgram const beeping = make_feed_program(options);
    CHECK(waits(beeping.gcode) == 2);
    CHECK(beeping.gcode.find("M300") != std::string::npos);
    CHECK_NEAR(beeping.planned_s - paused.planned_s, 17 * 20, 1e-6 /*s*/);
  }

  TEST_CASE("cautions stand at the top, and the person's own code is taken as it is") {
    FeedOptions options = bench();
    CHECK(make_feed_program(options).gcode.find("Plain start") != std::string::npos);
    options.start_code = "; mine\nM109 S215";
    options.end_code = "M104 S0 ; mine";
    options.nozzle_c = 0;
    std::string const gcode = make_feed_program(options).gcode;
    CHECK(gcode.find("Plain start") == std::string::npos);
    std::size_t const start = gcode.find("; mine\nM109 S215\n");
    REQUIRE(start != std::string::npos);
    CHECK(gcode.ends_with("\nM104 S0 ; mine\n"));
    for (char const* word :
         {"burn", "Fumes", "pinch", "alone", "safety data sheet", "local rules"}) {
      CAPTURE(word);
      CHECK(gcode.find(word) < start);
    }
    CHECK(gcode.find("M83", start) < gcode.find("G1 E"));
  }

  TEST_CASE("flows beyond E's limits and senseless options are refused, what starves is not") {
    auto const with = [](auto change) {
      FeedOptions options = bench();
      change(options);
      return refusal(options);
    };
    CHECK(with([](auto& o) {
            o.max_flow_mm3_s = 10;
            o.flows_mm3_s = {2, 11};
          }) == "nothing was thrown");
    CHECK(with([](auto& o) {
            o.store_cups = StoreCups::rising;
          }).starts_with("[limits] max_flow_mm3_s: cups of bursts need to know"));
    CHECK(with([](auto& o) {
            o.flows_mm3_s = {200};
          }).starts_with("[machine] max_speed_mm_s: the flow 200 mm³/s asks more than E's"));
    CHECK(with([](auto& o) { o.flows_mm3_s = {0}; }).find("makes no sense") != std::string::npos);
    CHECK(with([](auto& o) { o.flows_mm3_s = {2, 2}; }).starts_with("a flow is given twice"));
    CHECK(with([](auto& o) { o.nozzle_c = 0; }).starts_with("the plain start needs"));
    CHECK(with([](auto& o) { o.cup_s = 1; }).starts_with("the time for a cup is 1 s"));
    CHECK(with([](auto& o) { o.cups_per_flow = 0; }).starts_with("neither cups nor bursts"));
    CHECK(with([](auto& o) { o.burst_to_mm3_s = 500; }).find("E's greatest") != std::string::npos);
  }

  TEST_CASE("without flows given they rise by about √2 to twice what the screw feeds") {
    FeedOptions options = bench();
    options.max_flow_mm3_s = 12;
    options.known.delivered_factor = 0.75;  // 16 mm³/s of E bring 12
    std::map<double, int> flows;
    for (Cup const& cup : make_feed_program(options).cups) ++flows[cup.flow_mm3_s];
    CHECK(flows ==
          std::map<double, int>{{4, 4}, {5.7, 4}, {8, 4}, {11, 4}, {16, 4}, {23, 4}, {32, 4}});
    // Not known: the fastest of them starves a small granule screw.
    CHECK(chosen_flows({}) == std::vector<double>{2, 2.8, 4, 5.7, 8, 11, 16, 23});
    // E goes no faster than 50 mm/s, 120 mm³/s.
    options.max_flow_mm3_s = 90;
    double fastest = 0;
    for (Cup const& cup : make_feed_program(options).cups)
      fastest = std::max(fastest, cup.flow_mm3_s);
    CHECK(fastest == 120);
  }

  TEST_CASE("cups that are too light for the scale are reported") {
    FeedOptions options = bench();
    options.density_g_cm3 = 1.24;
    REQUIRE(make_feed_program(options).remarks.size() == 1);
    CHECK(make_feed_program(options).remarks[0].starts_with("Cups at 2 mm³/s hold about 0.15 g"));
    options.scale_g = 0.001;
    CHECK(make_feed_program(options).remarks.empty());
  }

  TEST_CASE("bursts rise in equal ratios up to E's limit, each after a pause, back and forward") {
    FeedOptions options = bench();
    options.cups_per_flow = 0;
    options.bursts = Bursts::rising;
    FeedProgram const program = make_feed_program(options);
    auto const middle = program.bursts.size() / 2;
    CHECK(program.bursts.size() == 2 * middle);
    for (std::size_t i = 0; i < program.bursts.size(); ++i) {
      Burst const& burst = program.bursts[i];
      CHECK((burst.direction == Direction::forward) == (i >= middle));
      CHECK_CLOSE(burst.flow_mm3_s, burst.e_mm_s * 2.40528188, 1e-8);
      if (i % middle == 0) continue;
      double const ratio = burst.e_mm_s / program.bursts[i - 1].e_mm_s;
      CHECK(ratio > 1.1);
      CHECK(ratio <= 1.25 + 1e-9);
    }
    CHECK_CLOSE(program.bursts.back().e_mm_s, 50, 1e-12);
    CHECK_CLOSE(program.bursts[middle].flow_mm3_s, 8, 1e-12);

    Driven const driven(program.gcode);
    double back = 0, seconds_at_rate = 0;
    for (motion::TimedMove const& timed : driven.caught.moves) {
      if (timed.move.kind != gcode::MoveKind::e_only) continue;
      back = std::min(back, timed.move.e_mm);
      if (timed.move.line > 0 && std::abs(timed.move.feed_mm_s - 50) < 1e-6 && timed.move.e_mm > 0)
        seconds_at_rate += timed.speed.cruise_s();
    }
    CHECK(back < -15);
    CHECK_NEAR(seconds_at_rate, 2, 0.05 /*s*/);
    CHECK(std::ranges::count_if(driven.halts, [](gcode::Halt const& h) {
            return h.kind == gcode::HaltKind::wait;
          }) == static_cast<std::ptrdiff_t>(2 + 1 + 1 + program.bursts.size()));
    CHECK(burst_sheet(program).starts_with(
        "burst,direction,flow_mm3_s,e_mm_s,result,note\n1,reverse,8,3.326,,\n"));
  }
}
