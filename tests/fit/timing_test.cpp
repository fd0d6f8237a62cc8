// SPDX-License-Identifier: MIT
#include "meltlag/fit/timing.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "meltlag/base/error.hpp"
#include "motion/support.hpp"
#include "support/near.hpp"

namespace meltlag::fit {
namespace {

TimingOptions options_of(motion::Limits const& limits) {
  return {.slicer_diameter_mm = 1.75, .limits = limits, .nozzle_c = 205};
}

// What a stopwatch says beside a printer of these limits, to a tenth of a second.
std::vector<TimingReading> clocked(TimingProgram const& program, motion::Limits const& printer) {
  std::vector<TimingReading> out;
  for (TimingBlock const& block :
       read_timing_blocks(program.gcode, "timing.gcode", options_of(printer)))
    out.push_back({block.number, std::round(10 * block.planned_s) / 10});
  return out;
}

TimingFinding const& of(TimingJudgement const& judged, TimingKind kind) {
  return *std::ranges::find(judged.findings, kind, &TimingFinding::kind);
}

}  // namespace

TEST_SUITE("fit") {
  TEST_CASE("a printer that is as the profile says holds in every block") {
    motion::Limits const limits = motion_test::bench_limits();
    TimingProgram const program = make_timing_program(options_of(limits));
    REQUIRE(program.blocks.size() == 6);
    TimingJudgement const judged =
        judge_timing(program.blocks, clocked(program, limits), options_of(limits));
    for (TimingFinding const& finding : judged.findings) {
      CAPTURE(finding.words);
      CHECK(finding.verdict == TimingVerdict::holds);
    }
    for (TimingBlock const& block : program.blocks) {
      CAPTURE(std::string{name_of(block.kind)});
      CHECK(block.planned_s > 8);   // or a hand would be too slow for it
      CHECK(block.planned_s < 90);  // or a person
    }
  }

  TEST_CASE("moves from rest to rest take 2·√(s/a), as mechanics has it") {
    motion::Limits limits = motion_test::bench_limits();
    limits.corner_jump_mm_s = {0, 0, 0, 0};
    TimingProgram const program = make_timing_program(options_of(limits));
    CHECK_CLOSE(program.blocks[0].planned_s, 150 * 2 * std::sqrt(20.0 / 800), 1e-3);
  }

  TEST_CASE("whatever differs is found with its number, and the rest still holds") {
    motion::Limits const limits = motion_test::bench_limits();
    TimingProgram const program = make_timing_program(options_of(limits));
    auto const judged = [&](std::function<void(motion::Limits&)> const& other) {
      motion::Limits printer = limits;
      other(printer);
      return judge_timing(program.blocks, clocked(program, printer), options_of(limits));
    };
    TimingJudgement const faster = judged([](motion::Limits& l) { l.acceleration_mm_s2 = 1100; });
    TimingFinding const& beads = of(faster, TimingKind::beads);
    CHECK(beads.verdict == TimingVerdict::differs);
    CHECK(std::abs(*beads.value - 1100) < 3 * *beads.sd);
    CHECK(*beads.sd < 40);
    CHECK(of(faster, TimingKind::travels).verdict == TimingVerdict::holds);
    CHECK(of(faster, TimingKind::corners).verdict == TimingVerdict::holds);
    CHECK(of(faster, TimingKind::stops).verdict == TimingVerdict::holds);

    TimingJudgement const travels =
        judged([](motion::Limits& l) { l.travel_acceleration_mm_s2 = 1500; });
    CHECK(of(travels, TimingKind::beads).verdict == TimingVerdict::holds);
    TimingFinding const& travel = of(travels, TimingKind::travels);
    CHECK(std::abs(*travel.value - 1500) < 3 * *travel.sd);
    CHECK(travels.limits.travel_rule == motion::TravelRule::without_e);
    TimingJudgement const rapid = judged([](motion::Limits& l) {
      l.travel_acceleration_mm_s2 = 1500;
      l.travel_rule = motion::TravelRule::rapid;
    });
    CHECK(rapid.limits.travel_rule == motion::TravelRule::rapid);

    TimingJudgement const halting = judged([](motion::Limits& l) { l.stops_halt = true; });
    CHECK(of(halting, TimingKind::stops).verdict == TimingVerdict::differs);
    CHECK(halting.limits.stops_halt);
    CHECK(of(halting, TimingKind::beads).verdict == TimingVerdict::holds);

    TimingJudgement const corners =
        judged([](motion::Limits& l) { l.corner_jump_mm_s[0] = l.corner_jump_mm_s[1] = 5; });
    TimingFinding const& corner = of(corners, TimingKind::corners);
    CHECK(corner.verdict == TimingVerdict::differs);
    CHECK(std::abs(*corner.value - 5) < 3 * *corner.sd);

    TimingJudgement const strokes =
        judged([](motion::Limits& l) { l.retract_acceleration_mm_s2 = 1000; });
    TimingFinding const& stroke = of(strokes, TimingKind::strokes);
    CHECK(stroke.verdict == TimingVerdict::differs);
    CHECK(std::abs(*stroke.value - 1000) < 3 * *stroke.sd);
  }

  TEST_CASE("times are seconds or minutes and seconds; what was missed is passed over") {
    auto const read = [](std::string const& text) {
      return read_timing_sheet(
          Sheet::parse("block,what,planned_s,took_s,note\n" + text, "times.csv"));
    };
    auto const readings = read("1,,47,1:07.3,\n2,,47,,\n3,,47,12.5 s,\n");
    REQUIRE(readings.size() == 2);
    CHECK_NEAR(readings[0].took_s, 67.3, 1e-9);
    CHECK(readings[1].block == 3);
    CHECK_NEAR(readings[1].took_s, 12.5, 1e-9);
    for (char const* wrong : {"1,,47,1:99,\n", "1,,47,soon,\n", "1,,47,-3,\n", "x,,47,3,\n"}) {
      CAPTURE(wrong);
      CHECK_THROWS_AS((void)read(wrong), Error);
    }
    CHECK_THROWS_AS((void)read_timing_blocks("G1 X1\n", "part.gcode", options_of({})), Error);
  }
}

}  // namespace meltlag::fit
