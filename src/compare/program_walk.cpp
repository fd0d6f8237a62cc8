// SPDX-License-Identifier: MIT
#include "program_walk.hpp"

#include "meltlag/gcode/blocks.hpp"

namespace meltlag::compare {
namespace {

class Timer : public gcode::MeaningSink {
 public:
  Timer(motion::Limits const& limits, motion::TimedSink& sink) : planner({limits}, sink) {}
  void on_move(gcode::Move const& move) override { planner.push(move); }
  void on_halt(gcode::Halt const& halt) override { planner.push(halt); }
  void on_setting(gcode::Setting const& setting) override { planner.push(setting); }

  motion::Planner planner;
};

}  // namespace

std::int64_t walk(std::string const& path,
                  ProgramOptions const& options,
                  Notices& notices,
                  gcode::MeaningSink& sink) {
  gcode::LineSource source(path);
  gcode::Interpreter interpreter({.slicer_diameter_mm = options.slicer_diameter_mm,
                                  .g91_covers_e = options.g91_covers_e,
                                  .file_name = path},
                                 notices);
  std::int64_t const lines = gcode::for_each_block(
      source, [&](gcode::Block const& block) { interpreter.interpret(block, sink); });
  return lines;
}

Walked walk_timed(std::string const& path,
                  ProgramOptions const& options,
                  Notices& notices,
                  motion::TimedSink& sink) {
  Timer timer(options.limits, sink);
  Walked walked{.lines = walk(path, options, notices, timer)};
  timer.planner.finish();
  walked.planned_s = timer.planner.time_s();
  return walked;
}

}  // namespace meltlag::compare
