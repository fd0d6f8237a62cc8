// SPDX-License-Identifier: MIT
#include "meltlag/motion/walk.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "meltlag/base/error.hpp"
#include "support.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::motion;

namespace {

constexpr char program[] =
    "G21\n"
    "G1 X10 E2 F600\n"
    "G4 P500\n"
    "G1 X20 E4\n"
    "; adapted by meltlag 0 for a test\n";

WalkOptions bench() {
  return {.slicer_diameter_mm = 1.75,
          .limits = {.acceleration_mm_s2 = 800,
                     .travel_acceleration_mm_s2 = 800,
                     .corner_jump_mm_s = {10, 10, 0.4, 5},
                     .max_speed_mm_s = {300, 300, 20, 60},
                     .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}}};
}

struct Diary final : WalkSink {
  std::vector<std::string> seen;
  std::vector<TimedMove> moves;
  double halted_s = 0;
  void on_line(gcode::Block const& block, gcode::LineRole role) override {
    seen.push_back((role == gcode::LineRole::marker ? "marker " : "line ") +
                   std::to_string(block.line));
  }
  void on_read(gcode::Move const& move) override {
    seen.push_back("move " + std::to_string(move.line));
  }
  void on_read(gcode::Halt const& halt) override {
    seen.push_back("halt " + std::to_string(halt.line));
  }
  void on_timed_move(TimedMove const& timed) override { moves.push_back(timed); }
  void on_halt(gcode::Halt const& halt, double) override { halted_s += halt.dwell_s; }
};

Walked walked(Diary& diary, WalkOptions const& options) {
  Notices notices;
  return walk(gcode::LineSource::from_text(program, "walked"), options, notices, diary);
}

}  // namespace

TEST_SUITE("motion") {
  TEST_CASE("a walk shows lines behind what they mean, and times every move") {
    Diary diary;
    Walked const out = walked(diary, bench());
    CHECK(out.lines == 5);
    CHECK(out.e_mode_never_stated);
    CHECK(diary.seen ==
          std::vector<std::string>{
              "line 1", "move 2", "line 2", "halt 3", "line 3", "move 4", "line 4", "marker 5"});
    REQUIRE(diary.moves.size() == 2);
    CHECK_NEAR(diary.halted_s, 0.5, 1e-12 /* s */);
    // By hand: 10 mm at 10 mm/s from and to rest at 800 mm/s², twice, and the dwell.
    CHECK_NEAR(out.planned_s, 2 * (1 + 10.0 / 800) + 0.5, 1e-9 /* s */);
    CHECK_NEAR(diary.moves[1].start_s, 1 + 10.0 / 800 + 0.5, 1e-9 /* s */);
  }

  TEST_CASE("a walk divides E as the slicer's flow setting would, and nothing else") {
    Diary plain, divided;
    walked(plain, bench());
    WalkOptions options = bench();
    options.e_divisor = 0.8;
    walked(divided, options);
    for (std::size_t i = 0; i < 2; ++i) {
      CHECK_CLOSE(divided.moves[i].move.e_mm, plain.moves[i].move.e_mm / 0.8, 1e-12);
      CHECK_CLOSE(divided.moves[i].move.volume_mm3, plain.moves[i].move.volume_mm3 / 0.8, 1e-12);
      CHECK(divided.moves[i].move.feed_mm_s == plain.moves[i].move.feed_mm_s);
    }
  }

  TEST_CASE("a walk names the file where a line cannot be read") {
    Diary diary;
    Notices notices;
    try {
      walk(gcode::LineSource::from_text("G1 X1 Yoops\n", "odd.gcode"), bench(), notices, diary);
      FAIL("it was read");
    } catch (Error const& error) {
      CHECK(error.where().file == "odd.gcode");
      CHECK(error.where().line == 1);
    }
  }
}
