// SPDX-License-Identifier: MIT
// Building moves and catching what the planner sends.
#pragma once

#include <cmath>
#include <vector>

#include "meltlag/motion/planner.hpp"

namespace motion_test {

using meltlag::Vec3;
using meltlag::gcode::Halt;
using meltlag::gcode::HaltKind;
using meltlag::gcode::Move;
using meltlag::gcode::MoveKind;
using meltlag::motion::Limits;
using meltlag::motion::TimedMove;

inline Limits bench_limits() {
  return {.acceleration_mm_s2 = 800,
          .travel_acceleration_mm_s2 = 800,
          .corner_jump_mm_s = {10, 10, 0.4, 5},
          .max_speed_mm_s = {200, 200, 10, 50},
          .max_acceleration_mm_s2 = {2000, 2000, 100, 5000}};
}

inline Move straight(Vec3 from, Vec3 to, double e_mm, double feed_mm_s) {
  Move move;
  move.start_mm = from;
  move.end_mm = to;
  move.length_mm = norm(to - from);
  move.e_mm = e_mm;
  move.feed_mm_s = feed_mm_s;
  move.kind = e_mm > 0 ? MoveKind::print : e_mm < 0 ? MoveKind::unprint : MoveKind::travel;
  return move;
}

inline Move screw_turn(Vec3 at, double e_mm, double feed_mm_s) {
  Move move = straight(at, at, e_mm, feed_mm_s);
  move.kind = MoveKind::e_only;
  return move;
}

// Counter-clockwise for a positive sweep, in the XY plane.
inline Move arc(Vec3 centre, double radius_mm, double start_rad, double sweep_rad, double rise_mm) {
  auto const at = [&](double angle, double z) {
    return centre + Vec3{radius_mm * std::cos(angle), radius_mm * std::sin(angle), z};
  };
  Move move = straight(at(start_rad, 0), at(start_rad + sweep_rad, rise_mm), 0.1, 40);
  move.length_mm = std::hypot(radius_mm * sweep_rad, rise_mm);
  move.arc = {.centre_a_mm = centre.x,
              .centre_b_mm = centre.y,
              .radius_mm = radius_mm,
              .start_rad = start_rad,
              .sweep_rad = sweep_rad};
  return move;
}

struct Caught : meltlag::motion::TimedSink {
  std::vector<TimedMove> moves;
  std::vector<double> halts_at_s;
  std::vector<std::size_t> moves_before_halt;

  void on_timed_move(TimedMove const& timed) override { moves.push_back(timed); }
  void on_halt(Halt const&, double at_s) override {
    halts_at_s.push_back(at_s);
    moves_before_halt.push_back(moves.size());
  }
};

}  // namespace motion_test
