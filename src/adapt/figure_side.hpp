// SPDX-License-Identifier: MIT
// One file on its way: lines → moves → timed moves → cells.
#pragma once

#include "figure_cells.hpp"
#include "figure_piece.hpp"
#include "figure_reader.hpp"
#include "figure_ring.hpp"
#include "figure_timing.hpp"

namespace meltlag::adapt {

// Plans moves whose pieces are known and judges them.
class JudgedPlan : motion::TimedSink {
 public:
  JudgedPlan(FigureOptions const& options, Side side, RowBook& rows, Figure& figure)
      : figure_(figure),
        cells_(options.plant, side, rows, figure),
        peaks_(options.plant, figure),
        path_(options.limits),
        planner_({.limits = options.limits}, *this) {}
  JudgedPlan(JudgedPlan const&) = delete;
  JudgedPlan& operator=(JudgedPlan const&) = delete;

  void push(gcode::Move const& move, Piece const& piece) {
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

  Figure& figure_;
  CellWalk cells_;
  Peaks peaks_;
  PathClock path_;
  Ring<Piece> pieces_;  // of the moves that the planner holds
  motion::Planner planner_;
};

}  // namespace meltlag::adapt
