// SPDX-License-Identifier: MIT
// What both files lay into each cell of the original's path (judge.hpp says what a cell is), for
// pictures.
#pragma once

#include <cstdint>

#include "meltlag/base/vec.hpp"
#include "meltlag/gcode/move.hpp"

namespace meltlag::judge {

// What one file does in a cell.
struct CellSide {
  double start_s = 0, duration_s = 0;  // planned; an E-only move that is no more lasts 0 s
  double commanded_mm3 = 0;            // as E says, delivered factor not applied
  double got_mm3 = 0;
  double run_on_mm3 = 0;  // when the head leaves the cell
  double blob_mm3 = 0;    // too much on the last 2 mm, where a run of beads ends in this cell
  double gap_mm = 0;      // length before this cell, else of it too, whose bead comes too late
};

// One cell, or a move of E alone.
struct CellRow {
  std::int64_t line = 0;  // of the original
  gcode::MoveKind kind = gcode::MoveKind::travel;
  bool starts_run = false;  // the first cell of a run of beads
  Vec3 start_mm, end_mm;    // program coordinates
  double length_mm = 0;     // along the path; 0 for E alone
  double wanted_mm3 = 0;
  CellSide before, after;  // alike for one file alone
};

// Receives cells in the original's order, up to where the paths part.
class CellSink {
 public:
  virtual ~CellSink() = default;
  virtual void on_cell(CellRow const& cell) = 0;
};

}  // namespace meltlag::judge
