// SPDX-License-Identifier: MIT
// The walk over a file that everybody takes who looks at timed moves: source → blocks → moves →
// timed moves, in bounded memory.
#pragma once

#include <cstdint>
#include <string>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::motion {

struct WalkOptions {
  double slicer_diameter_mm;
  Limits limits;
  bool g91_covers_e = true;
  double e_divisor = 1;  // every E is divided by it, as the slicer's flow setting would
};

// For who looks at moves alone.
[[nodiscard]] inline gcode::ReadOptions read_options(WalkOptions const& options) {
  return {options.slicer_diameter_mm, options.g91_covers_e};
}

// What one may look at on the way, beside timed moves and halts.
class WalkSink : public TimedSink {
 public:
  // A line, behind what it means.
  virtual void on_line(gcode::Block const&, gcode::LineRole) {}
  // As written; timed only later, when no move behind it can change its speed.
  virtual void on_read(gcode::Move const&) {}
  virtual void on_read(gcode::Halt const&) {}
};

struct Walked {
  std::int64_t lines = 0;
  double planned_s = 0;
  bool e_mode_never_stated = false;
};

// Throws Error for what cannot be read.
Walked walk(gcode::LineSource source, WalkOptions const& options, Notices& notices, WalkSink& sink);
Walked walk(std::string const& path, WalkOptions const& options, Notices& notices, WalkSink& sink);

}  // namespace meltlag::motion
