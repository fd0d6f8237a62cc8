// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstdint>
#include <limits>

#include "figure_cell_book.hpp"
#include "figure_piece.hpp"
#include "figure_ring.hpp"
#include "meltlag/adapt/figure.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::adapt {

// Puts together what both files say about each move of the original, and about each of its cells.
// Does nothing without a sink for either.
class RowBook {
 public:
  // `sides`: before for one file alone.
  RowBook(RowSink* sink, CellSink* cells, Side sides);

  // In the original's order, before anything else is said about the move.
  void open(gcode::Move const& move, Piece const& piece);
  void timed(Side side, motion::TimedMove const& timed, Piece const& piece, double run_on_mm3);
  void laid(Side side, CellPlace place, CellSide const& laid);
  // The paths part: nothing is sent on from the original's move `index` on.
  void end_at(std::int64_t index) { end_ = index; }
  // All is said about the moves before `index`.
  void settle(Side side, std::int64_t index);

 private:
  [[nodiscard]] MoveRow& row(std::int64_t index);
  void emitted(MoveRow& row, motion::TimedMove const& timed, Piece const& piece);
  void repeat_before(MoveRow& row) const;
  [[nodiscard]] bool is_asked() const { return sink_ != nullptr || cell_sink_ != nullptr; }
  RowSink* sink_;
  CellSink* cell_sink_;
  Side sides_;
  CellBook cells_;
  Ring<MoveRow> rows_;
  std::int64_t first_ = 0;  // index of the oldest row
  std::int64_t end_ = std::numeric_limits<std::int64_t>::max();
  std::array<std::int64_t, 2> settled_{};
};

}  // namespace meltlag::adapt
