// SPDX-License-Identifier: MIT
// What the planner needs of a move's geometry.
#pragma once

#include "meltlag/motion/planner.hpp"

namespace meltlag::motion {

// Displacement of each axis per mm of path at a move's two ends; (0, 0, 0, ±1) for an e_only move.
struct Ends {
  PerAxis first, last;
};
[[nodiscard]] Ends ends_of(gcode::Move const& move, PlanE e);

// move_limits for a move whose ends are known already.
[[nodiscard]] MoveLimits limits_of(gcode::Move const& move, Ends const& ends, Limits const& limits);

// Either side of a corner.
struct CornerSide {
  PerAxis per_mm;     // displacement per mm of path at the corner
  double speed_mm_s;  // limits of the move on this side
  double acceleration_mm_s2;
};
[[nodiscard]] double corner_speed_of(CornerSide const& in,
                                     CornerSide const& out,
                                     Limits const& limits);

}  // namespace meltlag::motion
