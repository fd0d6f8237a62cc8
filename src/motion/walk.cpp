// SPDX-License-Identifier: MIT
#include "meltlag/motion/walk.hpp"

#include <utility>

namespace meltlag::motion {
namespace {

class ToPlanner final : public gcode::MeaningSink {
 public:
  ToPlanner(WalkOptions const& options, WalkSink& sink)
      : planner({.limits = options.limits}, sink), e_divisor_(options.e_divisor), sink_(sink) {}
  void on_move(gcode::Move const& move) override {
    sink_.on_read(move);
    if (e_divisor_ == 1) return planner.push(move);
    gcode::Move divided = move;
    divided.e_mm /= e_divisor_;
    divided.volume_mm3 /= e_divisor_;
    planner.push(divided);
  }
  void on_halt(gcode::Halt const& halt) override {
    sink_.on_read(halt);
    planner.push(halt);
  }
  void on_setting(gcode::Setting const& setting) override { planner.push(setting); }

  Planner planner;

 private:
  double e_divisor_;
  WalkSink& sink_;
};

}  // namespace

Walked walk(gcode::LineSource source,
            WalkOptions const& options,
            Notices& notices,
            WalkSink& sink) {
  gcode::ProgramReader reader(std::move(source), read_options(options), notices);
  ToPlanner meaning(options, sink);
  while (reader.next()) {
    gcode::LineRole const role = reader.interpret(meaning);
    sink.on_line(reader.block(), role);
  }
  meaning.planner.finish();
  return {.lines = reader.block().line,
          .planned_s = meaning.planner.time_s(),
          .e_mode_never_stated = reader.interpreter().e_mode_never_stated()};
}

Walked walk(std::string const& path, WalkOptions const& options, Notices& notices, WalkSink& sink) {
  return walk(gcode::LineSource(path), options, notices, sink);
}

}  // namespace meltlag::motion
