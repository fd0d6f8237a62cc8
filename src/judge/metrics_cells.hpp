// SPDX-License-Identifier: MIT
// Runs the predictor along timed moves and lays what comes out into the original's cells.
#pragma once

#include <cmath>
#include <cstdint>
#include <limits>

#include "meltlag/judge/judge.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/planner.hpp"
#include "ring.hpp"
#include "row_book.hpp"

namespace meltlag::judge {

class CellWalk {
 public:
  CellWalk(melt::PlantParameters const& plant, Side side, RowBook& rows, PrintMetrics& metrics);

  void move(motion::TimedMove const& timed, PathPiece const& piece);
  void halt(gcode::Halt const& halt);
  void finish();  // the file's end

 private:
  struct Cell {
    std::int64_t index = -1;  // of the original's move; −1: none yet
    double number = 0;        // in its move
    double length_mm = 0, wanted_mm3 = 0;
    bool prints = false, starts_run = false;
    bool counts_string = false;  // the head travels farther than 2 mm
    CellSide laid = {};
  };
  struct Excess {
    double mm3 = 0, length_mm = 0, wanted_mm3 = 0;
  };

  void lay(motion::TimedMove const& timed, PathPiece const& piece);
  double turn(motion::TimedMove const& timed);
  void count_string();
  void enter(PathPiece const& piece, double number);
  void close(bool goes_on);
  void close_bead(double off_mm3, bool goes_on);
  void weigh_last();
  void end_gap();
  void end_run();
  double advance(double duration_s, double from_mm3_s, double to_mm3_s);
  void fill(double duration_s, double from_mm3_s, double to_mm3_s);

  melt::Plant plant_;
  double nozzle_c_ = std::numeric_limits<double>::quiet_NaN();
  Side side_;
  RowBook& rows_;
  PrintMetrics& metrics_;
  Cell cell_;
  double now_s_ = 0;           // along the present move
  double standstill_mm3_ = 0;  // left at standstill, waiting for the next cell
  Ring<Excess> last_mm_;       // cells of the last 2 mm of the present run of beads
  double last_way_mm_ = 0;
  bool in_gap_ = false;
  double gap_mm_ = 0;
};

}  // namespace meltlag::judge
