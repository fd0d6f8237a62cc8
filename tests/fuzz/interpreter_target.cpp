// SPDX-License-Identifier: MIT
// The meaning: moves are finite and hang together, and so is their plan.
#include <cmath>

#include "machine.hpp"
#include "meltlag/gcode/blocks.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/motion/planner.hpp"
#include "target.hpp"

namespace meltlag::fuzz {
namespace {

bool finite(Vec3 p) { return std::isfinite(p.x) && std::isfinite(p.y) && std::isfinite(p.z); }

class Plan final : public motion::TimedSink {
 public:
  void on_timed_move(motion::TimedMove const& timed) override {
    promise(std::isfinite(timed.speed.duration_s()) && timed.speed.duration_s() >= 0,
            "a move takes no finite time");
  }
  void on_halt(gcode::Halt const&, double) override {}
};

class Meaning final : public gcode::MeaningSink {
 public:
  void on_move(gcode::Move const& move) override {
    promise(finite(move.start_mm) && finite(move.end_mm) && finite(move.origin_mm),
            "a move goes nowhere");
    promise(std::isfinite(move.length_mm) && move.length_mm >= 0, "a length is not finite");
    promise(std::isfinite(move.e_mm) && std::isfinite(move.volume_mm3), "E is not finite");
    promise(move.feed_mm_s > 0 && std::isfinite(move.feed_mm_s), "a speed is not positive");
    planner_.push(move);
  }
  void on_halt(gcode::Halt const& halt) override { planner_.push(halt); }
  void on_setting(gcode::Setting const& setting) override { planner_.push(setting); }
  void finish() { planner_.finish(); }

 private:
  Plan plan_;
  motion::Planner planner_{{machine_limits(), motion::PlanE::included}, plan_};
};

}  // namespace

void try_bytes(std::string_view bytes) {
  auto source = gcode::LineSource::from_text(bytes, "fuzz");
  Notices notices;
  gcode::Interpreter interpreter({.slicer_diameter_mm = 1.75}, notices);
  Meaning meaning;
  gcode::for_each_block(
      source, [&](gcode::Block const& block) { (void)interpreter.interpret(block, meaning); });
  meaning.finish();
}

}  // namespace meltlag::fuzz
