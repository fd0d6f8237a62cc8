// SPDX-License-Identifier: MIT
// One file on its way: lines → moves → timed moves → cells.
#pragma once

#include <string>

#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "metrics_cells.hpp"
#include "metrics_peaks.hpp"
#include "ring.hpp"

namespace meltlag::judge {

// A file read and interpreted line by line.
class ProgramReader {
 public:
  ProgramReader(std::string const& path, JudgeOptions const& options, Notices& notices);

  // Reads the next line; false at the end.
  [[nodiscard]] bool next();
  // What the line means goes to `sink`.
  gcode::LineRole interpret(gcode::MeaningSink& sink) {
    return interpreter_.interpret(block_, sink);
  }
  [[nodiscard]] gcode::Block const& block() const { return block_; }
  [[nodiscard]] std::string_view bom() const { return source_.bom(); }

 private:
  gcode::LineSource source_;
  gcode::Interpreter interpreter_;
  gcode::Block block_;
};

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
