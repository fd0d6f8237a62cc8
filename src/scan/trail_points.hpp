// SPDX-License-Identifier: MIT
// The moves of a printed layer as places 0.15 mm apart.
#pragma once

#include <string>
#include <vector>

#include "meltlag/gcode/move.hpp"
#include "trail.hpp"

namespace meltlag::scan {

// From the first bead to the last one. Throws Error where the file cannot be read or prints
// nothing.
[[nodiscard]] std::vector<gcode::Move> read_moves(std::string const& path);

// Places along the moves, as on the bed, and the ways at which only the screw turned.
struct TrailPoints {
  std::vector<TrailPoint> points;
  std::vector<double> turns_mm;
  double height_mm = 0;
  bool one_layer = true;  // all beads lie at one height above 0
};
[[nodiscard]] TrailPoints lay_points(std::vector<gcode::Move> const& moves);

}  // namespace meltlag::scan
