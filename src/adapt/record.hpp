// SPDX-License-Identifier: MIT
// Moves on their way from the reader to the writer.
#pragma once

#include <cstdint>
#include <vector>

#include "meltlag/gcode/move.hpp"
#include "meltlag/motion/limits.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::adapt {

enum class Fate : std::uint8_t {
  free_rate,   // its screw rate is ours to choose, its path may be cut
  as_written,  // stays, E included
  absorbed,    // an E-only move whose work the schedule does; its line keeps F and comment
};

// A stretch of one move with one screw rate.
struct RatePiece {
  double end_mm;  // along the original move's path
  double rate;    // E mm per mm
};

struct Record {
  gcode::Move move;
  motion::Trapezoid speed;      // as it will be driven once adapted
  motion::PerAxis jump_mm_s{};  // limits in force at the move
  double max_e_mm_s = 0, max_e_mm_s2 = 0;
  double dwell_after_s = 0;
  Fate fate = Fate::as_written;
  bool purge = false;       // what leaves during it is outside the figure
  bool free_e = true;       // false: E stays 0 (a travel that would change its acceleration)
  bool wait_after = false;  // a wait of unknown length follows
  bool scheduled = false;
  std::vector<RatePiece> pieces;  // empty: nothing to change
};

}  // namespace meltlag::adapt
