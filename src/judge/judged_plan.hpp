// SPDX-License-Identifier: MIT
// One file on its way: moves → timed moves → cells.
#pragma once

#include "meltlag/gcode/program_reader.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "metrics_cells.hpp"
#include "metrics_peaks.hpp"
#include "ring.hpp"

namespace meltlag::judge {

[[nodiscard]] inline gcode::ReadOptions read_options(JudgeOptions const& options) {
  return {options.plant.feed.slicer_diameter_mm, options.g91_covers_e};
}

// Plans moves whose pieces are known and judges them.
class JudgedPlan : motion::TimedSink {
 public:
  JudgedPlan(JudgeOptions const& options, Side side, RowBook& rows, PrintMetrics& metrics)
      : metrics_(metrics),
        cells_(options.plant, side, rows, metrics),
        peaks_(options.plant, metrics),
        path_(options.limits),
        planner_({.limits = options.limits}, *this) {}
  JudgedPlan(JudgedPlan const&) = delete;
  JudgedPlan& operator=(JudgedPlan const&) = delete;

  void push(gcode::Move const& move, PathPiece const& piece) {
    pieces_.push(piece);
    planner_.push(move);
    path_.push(move);
  }
  template <class Event>
  void push(Event const& event) {
    planner_.push(event);
    path_.push(event);
  }
  void finish();
  [[nodiscard]] motion::Limits const& limits() const { return planner_.limits(); }

 private:
  void on_timed_move(motion::TimedMove const& timed) override {
    peaks_.move(timed);
    cells_.move(timed, pieces_.front());
    pieces_.pop();
  }
  void on_halt(gcode::Halt const& halt, double) override {
    peaks_.halt();
    cells_.halt(halt);
  }

  PrintMetrics& metrics_;
  CellWalk cells_;
  Peaks peaks_;
  PathClock path_;
  Ring<PathPiece> pieces_;  // of the moves that the planner holds
  motion::Planner planner_;
};

}  // namespace meltlag::judge
