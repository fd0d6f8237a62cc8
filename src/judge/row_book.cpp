// SPDX-License-Identifier: MIT
#include "row_book.hpp"

#include <algorithm>
#include <cassert>

namespace meltlag::judge {

RowBook::RowBook(RowSink* sink, CellSink* cells, Side sides)
    : sink_(sink), cell_sink_(cells), sides_(sides), cells_(cells, sides) {
  if (sides == Side::before) settled_[1] = std::numeric_limits<std::int64_t>::max();
}

MoveRow& RowBook::row(std::int64_t index) {
  assert(index >= first_);
  return rows_[static_cast<std::size_t>(index - first_)];
}

void RowBook::open(gcode::Move const& move, PathPiece const& piece) {
  if (!is_asked()) return;
  cells_.open(move, piece);
  MoveRow& row = rows_.push();
  row = {};
  row.line = move.line;
  row.kind = move.kind;
  row.end_mm = move.end_mm;
  row.length_mm = move.length_mm;
  row.e_before_mm = move.e_mm;
  row.commanded_before_mm3 = move.volume_mm3;
  row.wanted_mm3 = piece.cells * piece.wanted_mm3;
  row.purge = piece.purge;
}

void RowBook::timed(Side side,
                    motion::TimedMove const& timed,
                    PathPiece const& piece,
                    double run_on_mm3) {
  if (!is_asked()) return;
  if (timed.move.kind == gcode::MoveKind::e_only && !piece.added) {
    CellSide turned;
    turned.start_s = timed.start_s;
    turned.duration_s = timed.speed.duration_s();
    turned.commanded_mm3 = timed.move.volume_mm3;
    turned.run_on_mm3 = run_on_mm3;
    cells_.laid(side, {piece.index, 0}, turned);
  }
  MoveRow& row = this->row(piece.index);
  if (side == Side::before) {
    row.start_s = timed.start_s;
    row.duration_s = timed.speed.duration_s();
    row.run_on_before_mm3 = run_on_mm3;
    return;
  }
  if (piece.added) {
    row.e_added_mm += timed.move.e_mm;
    return;
  }
  row.run_on_after_mm3 = run_on_mm3;
  emitted(row, timed, piece);
}

void RowBook::emitted(MoveRow& row, motion::TimedMove const& timed, PathPiece const& piece) {
  gcode::Move const& move = timed.move;
  double const rate = move.length_mm > 0 ? move.e_mm / move.length_mm : 0;
  if (row.pieces == 0) {
    row.start_after_s = timed.start_s;
    row.emitted_first_line = move.line;
    row.first_rate_after = rate;
    row.kept = piece.kept;
  }
  ++row.pieces;
  row.kept = row.kept && piece.kept;
  row.emitted_last_line = move.line;
  row.duration_after_s += timed.speed.duration_s();
  row.e_after_mm += move.e_mm;
  row.e_reverse_after_mm += std::min(0.0, move.e_mm);
  row.commanded_after_mm3 += move.volume_mm3;
  row.last_rate_after = rate;
}

void RowBook::laid(Side side, CellPlace place, CellSide const& laid) {
  if (!is_asked()) return;
  MoveRow& row = this->row(place.index);
  (side == Side::before ? row.got_before_mm3 : row.got_after_mm3) += laid.got_mm3;
  cells_.laid(side, place, laid);
}

void RowBook::repeat_before(MoveRow& row) const {
  double const rate = row.length_mm > 0 ? row.e_before_mm / row.length_mm : 0;
  row.start_after_s = row.start_s;
  row.duration_after_s = row.duration_s;
  row.e_after_mm = row.e_before_mm;
  row.e_reverse_after_mm = std::min(0.0, row.e_before_mm);
  row.first_rate_after = row.last_rate_after = rate;
  row.commanded_after_mm3 = row.commanded_before_mm3;
  row.got_after_mm3 = row.got_before_mm3;
  row.run_on_after_mm3 = row.run_on_before_mm3;
  row.emitted_first_line = row.emitted_last_line = row.line;
  row.pieces = 1;
  row.kept = true;
}

void RowBook::settle(Side side, std::int64_t index) {
  if (!is_asked()) return;
  settled_[static_cast<std::size_t>(side)] = index;
  std::int64_t const until = std::min(settled_[0], settled_[1]);
  for (; first_ < until && !rows_.empty(); ++first_) {
    if (sides_ == Side::before) repeat_before(rows_.front());
    if (first_ < end_ && sink_ != nullptr) sink_->on_row(rows_.front());
    first_ < end_ ? cells_.send(first_) : cells_.drop(first_);
    rows_.pop();
  }
}

}  // namespace meltlag::judge
