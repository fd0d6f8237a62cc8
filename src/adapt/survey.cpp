// SPDX-License-Identifier: MIT
#include "survey.hpp"

#include <algorithm>

#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::adapt {
namespace {

class Surveyor final : public gcode::MeaningSink, public motion::TimedSink {
 public:
  explicit Surveyor(AdaptOptions const& options)
      : planner_({options.limits, motion::PlanE::included}, *this), plant_(options.plant) {}
  void on_move(gcode::Move const& move) override { planner_.push(move); }
  void on_halt(gcode::Halt const& halt) override { planner_.push(halt); }
  void on_setting(gcode::Setting const& setting) override { planner_.push(setting); }
  void on_timed_move(motion::TimedMove const& timed) override;
  void on_halt(gcode::Halt const& halt, double) override {
    if (halt.kind == gcode::HaltKind::wait) plant_.run_out();
    if (halt.kind == gcode::HaltKind::dwell) plant_.advance({halt.dwell_s, 0, 0});
  }
  Demand finish() {
    planner_.finish();
    return demand_;
  }

 private:
  void advance(double duration_s, double from, double to) {
    if (duration_s > 0) plant_.advance({duration_s, from, to});
    demand_.largest_run_on_mm3 = std::max(demand_.largest_run_on_mm3, plant_.run_on_mm3());
  }

  motion::Planner planner_;
  melt::Plant plant_;
  Demand demand_;
};

void Surveyor::on_timed_move(motion::TimedMove const& timed) {
  auto const& t = timed.speed;
  if (t.length_mm <= 0) return;
  double const per_mm = timed.move.volume_mm3 / t.length_mm;
  if (timed.move.kind == gcode::MoveKind::print) {
    demand_.peak_flow_mm3_s = std::max(demand_.peak_flow_mm3_s, per_mm * t.peak_mm_s);
  }
  plant_.set_temperature(timed.move.nozzle_c);
  advance(t.rise_s(), per_mm * t.entry_mm_s, per_mm * t.peak_mm_s);
  advance(t.cruise_s(), per_mm * t.peak_mm_s, per_mm * t.peak_mm_s);
  advance(t.fall_s(), per_mm * t.peak_mm_s, per_mm * t.exit_mm_s);
}

}  // namespace

Demand survey(std::string const& path, AdaptOptions const& options) {
  gcode::LineSource source(path);
  Notices unused;
  gcode::Interpreter interpreter(
      {options.plant.feed.slicer_diameter_mm, options.g91_covers_e, source.name()}, unused);
  Surveyor surveyor(options);
  gcode::RawLine raw;
  gcode::Block block;
  while (source.next(raw)) {
    block.line = raw.line;
    block.line_break = raw.line_break;
    gcode::read_block(raw.text, block);
    interpreter.interpret(block, surveyor);
  }
  return surveyor.finish();
}

}  // namespace meltlag::adapt
