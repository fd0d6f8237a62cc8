// SPDX-License-Identifier: MIT
// Moves on their way from the reader to the writer.
#pragma once

#include <cstdint>
#include <limits>
#include <vector>

#include "meltlag/gcode/move.hpp"
#include "meltlag/motion/limits.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::adapt {

enum class ExtrusionPolicy : std::uint8_t {
  free_rate,    // its screw rate is ours to choose, its path may be cut
  as_written,   // stays, E included
  free_stroke,  // an E-only move that keeps its place and at most its time; its amount is ours
  flow_right,   // its E is divided by the delivered factor, no more
  absorbed,     // an E-only move whose work the schedule does; its line keeps F and comment
};

// A part of one move with one screw rate.
struct RatePiece {
  double end_mm;         // along the original move's path
  double rate;           // E mm per mm
  double feed_mm_s = 0;  // the speed to ask for; 0: as the file says
};

// A part of one move that is driven at a speed of its own.
struct PacedStretch {
  double begin_mm = 0, begin_s = 0;  // from the move's start
  double cap_mm_s = 0;               // what is asked for
  motion::Trapezoid speed;           // what comes of it
};

struct RateBounds {
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
};

struct PlannedMove {
  gcode::Move move;
  motion::Trapezoid speed;          // as it will be driven once adapted, unless paced
  std::vector<PacedStretch> paced;  // slower than that; empty: it is not
  double asked_mm_s = 0;            // speed to ask for where it is not paced; 0: as the file says
  double top_mm_s = 0;              // the move's own greatest speed
  double entry_limit_mm_s = 0;      // the corner's, at its start
  motion::PerAxis jump_mm_s{};      // limits in force at the move
  double max_e_mm_s = 0, max_e_mm_s2 = 0;
  double dwell_after_s = 0;
  std::size_t layer = 0;
  ExtrusionPolicy extrusion = ExtrusionPolicy::as_written;
  bool cold = false;   // nothing may be changed there
  bool purge = false;  // what leaves during it is outside the figure
  bool dry = false;    // a travel between moves of E alone that stay
  bool free_e = true;  // false: E stays 0 (dry, or a travel that would change its acceleration)
  bool wait_after = false;        // a wait of unknown length follows
  bool scheduled = false;         // decided: whoever looks ahead takes it as it is
  std::vector<RatePiece> pieces;  // empty: nothing to change
  // A free stroke as it stands (`speed` is how it is driven), whether that is final, and the time
  // that it took as sliced; 0 s: not known yet.
  double stroke_e_mm = 0, stroke_time_s = 0;
  bool stroke_decided = false, stroke_fills_time = false;  // takes its time as sliced, no less
  // What the rates next to a stop have to keep, so that the printer is no faster there than
  // planned.
  RateBounds at_start, at_end;
  double kept_e_mm = 0;        // of its E, what stays as written with its flow set right
  double flow_right_e_mm = 0;  // what E goes then
};

// At most `speed_mm_s` as the move's F can say it: whole numbers, finer where they are small.
[[nodiscard]] double as_written_speed(gcode::Move const& move, double speed_mm_s);

}  // namespace meltlag::adapt
