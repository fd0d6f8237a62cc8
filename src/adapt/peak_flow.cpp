// SPDX-License-Identifier: MIT
#include "peak_flow.hpp"

#include <algorithm>

#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::adapt {
namespace {

class PeakFlow final : public gcode::MeaningSink, public motion::TimedSink {
 public:
  explicit PeakFlow(motion::Limits const& limits) : planner_({limits, motion::PlanE::included}, *this) {}
  void on_move(gcode::Move const& move) override { planner_.push(move); }
  void on_halt(gcode::Halt const& halt) override { planner_.push(halt); }
  void on_setting(gcode::Setting const& setting) override { planner_.push(setting); }
  void on_timed_move(motion::TimedMove const& timed) override {
    if (timed.move.kind != gcode::MoveKind::print) return;
    peak_ = std::max(peak_, timed.move.volume_mm3 / timed.move.length_mm * timed.speed.peak_mm_s);
  }
  void on_halt(gcode::Halt const&, double) override {}
  double finish() {
    planner_.finish();
    return peak_;
  }

 private:
  motion::Planner planner_;
  double peak_ = 0;
};

}  // namespace

double peak_flow(std::string const& path, AdaptOptions const& options) {
  gcode::LineSource source(path);
  Notices unused;
  gcode::Interpreter interpreter({options.plant.feed.slicer_diameter_mm, options.g91_covers_e, source.name()}, unused);
  PeakFlow peak(options.limits);
  gcode::RawLine raw;
  gcode::Block block;
  while (source.next(raw)) {
    block.line = raw.line;
    block.line_break = raw.line_break;
    gcode::read_block(raw.text, block);
    interpreter.interpret(block, peak);
  }
  return peak.finish();
}

}  // namespace meltlag::adapt
