// SPDX-License-Identifier: MIT
#include "cell_book.hpp"

#include <algorithm>
#include <cassert>

namespace meltlag::judge {
namespace {

// A move of E alone has one entry too.
std::int64_t entries(PathPiece const& piece) {
  return std::max<std::int64_t>(1, static_cast<std::int64_t>(piece.cells));
}

}  // namespace

void CellBook::open(gcode::Move const& move, PathPiece const& piece) {
  if (sink_ == nullptr) return;
  moves_.push({move, piece, next_cell_});
  for (std::int64_t i = entries(piece); i > 0; --i) cells_.push({});
  next_cell_ += entries(piece);
}

void CellBook::laid(Side side, CellPlace place, CellSide const& laid) {
  if (sink_ == nullptr) return;
  assert(place.index >= first_move_);
  Open const& open = moves_[static_cast<std::size_t>(place.index - first_move_)];
  auto const cell = open.first_cell - first_cell_ + static_cast<std::int64_t>(place.number);
  cells_[static_cast<std::size_t>(cell)].of[static_cast<std::size_t>(side)] = laid;
}

void CellBook::send_cell(Open const& open, double number, Sides const& sides) {
  gcode::Move const& move = open.move;
  CellRow row;
  row.line = move.line;
  row.kind = move.kind;
  row.starts_run = open.piece.starts_run && number == 0;
  row.start_mm = move.start_mm;
  row.end_mm = move.end_mm;
  if (open.piece.cells > 0) {
    row.length_mm = open.piece.cell_mm;
    row.start_mm = gcode::point_at(move, number * open.piece.cell_mm);
    row.end_mm = gcode::point_at(move, (number + 1) * open.piece.cell_mm);
  }
  row.wanted_mm3 = open.piece.wanted_mm3;
  row.before = sides.of[0];
  row.after = sides_ == Side::before ? sides.of[0] : sides.of[1];
  sink_->on_cell(row);
}

void CellBook::send(std::int64_t index) {
  if (sink_ == nullptr) return;
  assert(index == first_move_);
  Open const& open = moves_.front();
  for (std::int64_t i = 0; i < entries(open.piece); ++i) {
    send_cell(open, static_cast<double>(i), cells_[static_cast<std::size_t>(i)]);
  }
  drop(index);
}

void CellBook::drop([[maybe_unused]] std::int64_t index) {
  if (sink_ == nullptr) return;
  assert(index == first_move_);
  for (std::int64_t i = entries(moves_.front().piece); i > 0; --i) cells_.pop();
  first_cell_ += entries(moves_.front().piece);
  moves_.pop();
  ++first_move_;
}

}  // namespace meltlag::judge
