// SPDX-License-Identifier: MIT
#include "meltlag/judge/path_piece.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::judge {
namespace {

constexpr double cell_mm = 0.5;

}  // namespace

// The latest retract is given again first.
double KeptE::take(gcode::Move const& move, bool purge) {
  bool const e_only = move.kind == gcode::MoveKind::e_only;
  bool const untold = move.bare_retract && !move.length_told;
  if (move.e_mm < 0) {
    bool const stays = untold || (e_only && -move.volume_mm3 > unload_mm3_);
    if (owed_.empty() || e_only || owed_.back().stays != stays || owed_.back().e_only)
      owed_.push_back({0, stays, e_only});
    owed_.back().mm -= move.e_mm;
    return stays ? move.e_mm : 0;
  }
  if (!e_only) return 0;
  double left = move.e_mm, kept = 0;
  while (left > 0 && !owed_.empty()) {
    double const part = std::min(left, owed_.back().mm);
    if (owed_.back().stays) kept += part;
    left -= part;
    owed_.back().mm -= part;
    if (owed_.back().mm <= 0) owed_.pop_back();
  }
  return purge || untold ? move.e_mm : kept;
}

void KeptE::keep_last_retract() {
  auto const last =
      std::find_if(owed_.rbegin(), owed_.rend(), [](Owed const& owed) { return owed.e_only; });
  if (last != owed_.rend()) last->stays = true;
}

gcode::Move with_flow_set_right(gcode::Move move, double kept_e_mm, double delivered_factor) {
  if (move.e_mm == 0) return move;
  double const e_mm = kept_e_mm + (move.e_mm - kept_e_mm) / delivered_factor;
  move.volume_mm3 *= e_mm / move.e_mm;
  move.e_mm = e_mm;
  return move;
}

PathPiece PathPieceMaker::next(gcode::Move const& move) {
  PathPiece piece;
  piece.index = index_++;
  piece.line = move.line;
  piece.e_mm = move.e_mm;
  piece.prints = move.kind == gcode::MoveKind::print;
  piece.purge = purges_.purged_mm3(move) > 0;
  piece.kept_e_mm = kept_e_.take(move, piece.purge);
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
