// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstdint>
#include <limits>

#include "cell_book.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "meltlag/motion/planner.hpp"
#include "ring.hpp"

namespace meltlag::judge {

// Puts together what both files say about each move of the original, and about each of its cells.
// Does nothing without a sink for either.
class RowBook {
 public:
  // `sides`: before for one file alone.
  RowBook(RowSink* sink, CellSink* cells, Side sides);

  // In the original's order, before anything else is said about the move.
  void open(gcode::Move const& move, PathPiece const& piece);
  void timed(Side side, motion::TimedMove const& timed, PathPiece const& piece, double run_on_mm3);
  void laid(Side side, CellPlace place, CellSide const& laid);
  // The paths part: nothing is sent on from the original's move `index` on.
  void end_at(std::int64_t index) { end_ = index; }
  [[nodiscard]] bool is_asked() const { return sink_ != nullptr || cell_sink_ != nullptr; }
  // All is said about the moves before `index`.
  void settle(Side side, std::int64_t index);

 private:
  [[nodiscard]] MoveRow& row(std::int64_t index);
  void emitted(MoveRow& row, motion::TimedMove const& timed, PathPiece const& piece);
  void repeat_before(MoveRow& row) const;
  RowSink* sink_;
  CellSink* cell_sink_;
  Side sides_;
  CellBook cells_;
  Ring<MoveRow> rows_;
  std::int64_t first_ = 0;  // index of the oldest row
  std::int64_t end_ = std::numeric_limits<std::int64_t>::max();
  std::array<std::int64_t, 2> settled_{};
};

}  // namespace meltlag::judge
