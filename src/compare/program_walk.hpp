// SPDX-License-Identifier: MIT
// A file from its lines to timed moves, for whoever looks at them.
#pragma once

#include <cstdint>
#include <string>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/compare/program.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::compare {

struct Walked {
  std::int64_t lines = 0;
  double planned_s = 0;
};

// Sends every timed move and halt of the file to `sink`.
Walked walk_timed(std::string const& path,
                  ProgramOptions const& options,
                  Notices& notices,
                  motion::TimedSink& sink);
// Sends what the file means, without timing. Returns the number of lines.
std::int64_t walk(std::string const& path,
                  ProgramOptions const& options,
                  Notices& notices,
                  gcode::MeaningSink& sink);

}  // namespace meltlag::compare
