// SPDX-License-Identifier: MIT
#pragma once

#include "meltlag/judge/invariants.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "meltlag/motion/planner.hpp"
#include "ring.hpp"

namespace meltlag::judge {

// Proves what the screw does. Moves are planned as if the E of all that is not as written set no
// limit: at these speeds the head should go, and E must keep within its limits at them.
class ScrewCheck : motion::TimedSink {
 public:
  ScrewCheck(JudgeOptions const& options, Violations& violations);
  ScrewCheck(ScrewCheck const&) = delete;
  ScrewCheck& operator=(ScrewCheck const&) = delete;

  void push(gcode::Move const& move, PathPiece const& piece);
  template <class Event>
  void push(Event const& event) {
    planner_.push(event);
  }
  // Both files are judged.
  void finish(Judgement const& judged);

 private:
  struct Screw {
    std::int64_t line = 0, original_line = 0;
    double rate = 0;                                               // E per mm of path, signed
    double speed_mm_s = 0, acceleration_mm_s2 = 0, jump_mm_s = 0;  // its limits
    bool kept = false, purge = false, e_only = false;
  };
  void on_timed_move(motion::TimedMove const& timed) override;
  void on_halt(gcode::Halt const&, double) override { last_exit_mm_s_ = 0; }
  void cold(gcode::Move const& move, PathPiece const& piece);
  void limits(Screw const& screw, motion::Trapezoid const& speed);
  void broken(Screw const& screw, char const* what, double is, double allowed);

  JudgeOptions const& options_;
  Violations& violations_;
  Ring<Screw> screws_;
  Screw last_;
  double last_exit_mm_s_ = 0;
  motion::Planner planner_;
};

}  // namespace meltlag::judge
