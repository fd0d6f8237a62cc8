// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <limits>

#include "meltlag/gcode/move.hpp"

namespace meltlag::motion {

inline constexpr std::size_t axis_e = 3;
using PerAxis = std::array<double, 4>;  // x, y, z, e

enum class CornerRule : std::uint8_t { jump, rounding };
// Which moves of the head the travel acceleration holds for.
enum class TravelRule : std::uint8_t {
  without_e,  // those that do not turn the screw
  rapid,      // G0
};

// What the printer's own planner obeys. Speeds mm/s, accelerations mm/s².
struct Limits {
  double acceleration_mm_s2;         // along the path, printing moves
  double travel_acceleration_mm_s2;  // along the path, travels; equals the above unless M204 P… T…
  TravelRule travel_rule = TravelRule::without_e;
  // Of E-only moves, M204 R; E's own greatest acceleration holds too.
  double retract_acceleration_mm_s2 = std::numeric_limits<double>::infinity();
  bool stops_halt = false;  // the printer comes to rest before and after an E-only move
  CornerRule corner_rule = CornerRule::jump;
  double corner_rounding_mm = 0.05;  // deviation of the tangent circle; used by `rounding` only
  PerAxis corner_jump_mm_s;          // greatest instantaneous speed change per axis
  PerAxis max_speed_mm_s;
  PerAxis max_acceleration_mm_s2;

  friend bool operator==(Limits const&, Limits const&) = default;
};

// Applies an M201/M203/M204/M205 from the file. Speeds and accelerations ≤ 0 and jumps < 0 are
// passed over: no printer could move with them.
void apply(gcode::Setting const& setting, Limits& limits);

}  // namespace meltlag::motion
