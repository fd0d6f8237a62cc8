// SPDX-License-Identifier: MIT
#include "meltlag/judge/path_piece.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/gcode/tolerances.hpp"

namespace meltlag::judge {
namespace {

constexpr double cell_mm = 0.5;

}  // namespace

bool PathPieceMaker::purges(gcode::Move const& move) {
  debt_mm_ += std::max(0.0, -move.e_mm);
  if (move.kind != gcode::MoveKind::e_only || move.e_mm <= 0) return false;
  double const repaid = std::min(debt_mm_, move.e_mm);
  debt_mm_ -= repaid;
  double const allowed =
      std::max(gcode::restart_extra_mm3, gcode::restart_extra_share * repaid * area_mm2_);
  return (move.e_mm - repaid) * area_mm2_ > allowed;
}

PathPiece PathPieceMaker::next(gcode::Move const& move) {
  PathPiece piece;
  piece.index = index_++;
  piece.line = move.line;
  piece.e_mm = move.e_mm;
  piece.prints = move.kind == gcode::MoveKind::print;
  piece.purge = purges(move);
  piece.unloads = move.kind == gcode::MoveKind::e_only && -move.volume_mm3 > unload_mm3_;
  piece.starts_run = piece.prints && broken_;
  broken_ = !piece.prints;
  if (move.kind == gcode::MoveKind::e_only) return piece;
  piece.cells =
      piece.prints ? std::clamp(std::round(move.length_mm / cell_mm), 1.0, most_cells) : 1;
  piece.cell_mm = move.length_mm / piece.cells;
  piece.wanted_mm3 = piece.prints ? move.volume_mm3 / piece.cells : 0;
  return piece;
}

}  // namespace meltlag::judge
