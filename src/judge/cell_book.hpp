// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstdint>
#include <limits>

#include "meltlag/judge/cell.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "ring.hpp"

namespace meltlag::judge {

enum class Side : std::uint8_t { before, after };

// Where a cell is: which move of the original, which cell of it.
struct CellPlace {
  std::int64_t index = 0;
  double number = 0;
};

// Puts together what both files lay into each cell. Does nothing without a sink.
class CellBook {
 public:
  // `sides`: before for one file alone.
  CellBook(CellSink* sink, Side sides) : sink_(sink), sides_(sides) {}

  void open(gcode::Move const& move, PathPiece const& piece);
  void laid(Side side, CellPlace place, CellSide const& laid);
  // All is said about the original's move `index`, the oldest one; nothing is sent on of a move
  // from which on the paths part.
  void send(std::int64_t index);
  void drop(std::int64_t index);

 private:
  struct Open {
    gcode::Move move;
    PathPiece piece;
    std::int64_t first_cell = 0;
  };
  struct Sides {
    std::array<CellSide, 2> of;
  };
  void send_cell(Open const& open, double number, Sides const& sides);

  CellSink* sink_;
  Side sides_;
  Ring<Open> moves_;
  Ring<Sides> cells_;
  std::int64_t first_move_ = 0, first_cell_ = 0, next_cell_ = 0;
};

}  // namespace meltlag::judge
