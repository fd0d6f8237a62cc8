// SPDX-License-Identifier: MIT
// The ring piece as its G-code has it: places along the beads, and the radial steps between rings.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "place.hpp"

namespace meltlag::scan {

inline constexpr double trail_step_mm = 0.15;

struct TrailPoint {
  std::int64_t line = 0;
  double at_mm = 0;   // from the start of the line's move
  double way_mm = 0;  // from the first bead
  Place2 place;       // from the rings' middle, y up
  Place2 left;        // unit vector to the left of the head's way
  bool prints = false;
  bool steps = false;       // on a radial step
  double to_step_mm = 1e9;  // along the way, to the nearest radial step
  double to_turn_mm = 1e9;  // to the nearest place where only the screw turned
  int ring = 0;             // from 1
};

// Between two rings; the middle of the radial step.
struct Step {
  double radius_mm = 0, turn_rad = 0;
  bool prints = false;
};

// A stretch on which the screw stands: indices of points.
struct Dry {
  std::size_t from = 0, to = 0;
};

struct Trail {
  std::vector<TrailPoint> points;
  std::vector<Step> steps;
  std::vector<Dry> dry;
  std::vector<double> radii_mm;  // of the rings
  double height_mm = 0;          // of the layer
};

// Throws Error where the file cannot be read, and where it is no ring piece.
[[nodiscard]] Trail read_trail(std::string const& gcode_path);

// Of any file of one layer: places are from the middle of its extent, stretches that go straight on
// stand for rings, corners and places beside other beads for steps. Throws Error where there are
// several layers, or hardly any beads apart.
[[nodiscard]] Trail read_any_trail(std::string const& gcode_path);

}  // namespace meltlag::scan
