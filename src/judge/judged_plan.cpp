// SPDX-License-Identifier: MIT
#include "judged_plan.hpp"

namespace meltlag::judge {

ProgramReader::ProgramReader(std::string const& path, JudgeOptions const& options, Notices& notices)
    : source_(path),
      interpreter_({.slicer_diameter_mm = options.plant.feed.slicer_diameter_mm,
                    .g91_covers_e = options.g91_covers_e,
                    .file_name = path},
                   notices) {}

bool ProgramReader::next() {
  gcode::RawLine raw;
  if (!source_.next(raw)) return false;
  gcode::read_block(raw.text, block_);
  block_.line = raw.line;
  block_.line_break = raw.line_break;
  return true;
}

void JudgedPlan::finish() {
  planner_.finish();
  cells_.finish();
  peaks_.finish();
  metrics_.planned_s = planner_.time_s();
  metrics_.path_s = path_.finish();
}

}  // namespace meltlag::judge
