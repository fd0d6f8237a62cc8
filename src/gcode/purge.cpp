// SPDX-License-Identifier: MIT
#include "meltlag/gcode/purge.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/gcode/tolerances.hpp"

namespace meltlag::gcode {
namespace {

constexpr double aside_mm = 3;
constexpr std::size_t most_candidates = 64;

}  // namespace

double PurgeCounter::purged_mm3(Move const& move) {
  if (move.volume_mm3 < 0) debt_mm3_ -= move.volume_mm3;
  if (move.kind != MoveKind::e_only || move.volume_mm3 <= 0) return 0;
  double const repaid = std::min(debt_mm3_, move.volume_mm3);
  double const excess = move.volume_mm3 - repaid;
  debt_mm3_ -= repaid;
  bool const purges = excess > restart_extra_mm3 && excess > restart_extra_share * repaid;
  return purges ? excess : 0;
}

void BeadBox::take(Vec3 at_mm) {
  low_x_mm = std::min(low_x_mm, at_mm.x);
  low_y_mm = std::min(low_y_mm, at_mm.y);
  high_x_mm = std::max(high_x_mm, at_mm.x);
  high_y_mm = std::max(high_y_mm, at_mm.y);
}

void BeadBox::take(BeadBox const& other) {
  low_x_mm = std::min(low_x_mm, other.low_x_mm);
  low_y_mm = std::min(low_y_mm, other.low_y_mm);
  high_x_mm = std::max(high_x_mm, other.high_x_mm);
  high_y_mm = std::max(high_y_mm, other.high_y_mm);
}

BeadBox BeadBox::of(Move const& move) {
  // Points an eighth of a radian apart.
  int const parts =
      move.arc.radius_mm > 0 ? 1 + static_cast<int>(std::abs(move.arc.sweep_rad) * 8) : 1;
  BeadBox out;
  for (int i = 0; i <= parts; ++i)
    out.take(point_at(move, move.length_mm * i / parts) + move.origin_mm);
  return out;
}

void PurgeLineFinder::take(Move const& move) {
  layers_.take(move);
  double const start_way_mm = way_mm_;
  way_mm_ += move.length_mm;
  if (move.kind != MoveKind::print) return;
  take({.line = move.line,
        .box = BeadBox::of(move),
        .volume_mm3 = move.volume_mm3,
        .way_mm = start_way_mm,
        .layer = layers_.count()});
}

void PurgeLineFinder::take(Bead const& bead) {
  BeadBox const& here = bead.box;
  std::erase_if(candidates_, [&](Candidate& c) {
    c.aside[0] = c.aside[0] && c.before.low_x_mm - here.high_x_mm > aside_mm;
    c.aside[1] = c.aside[1] && here.low_x_mm - c.before.high_x_mm > aside_mm;
    c.aside[2] = c.aside[2] && c.before.low_y_mm - here.high_y_mm > aside_mm;
    c.aside[3] = c.aside[3] && here.low_y_mm - c.before.high_y_mm > aside_mm;
    if (c.behind.empty()) c.line.way_mm = bead.way_mm;
    c.behind.take(here);
    return std::ranges::none_of(c.aside, [](bool aside) { return aside; });
  });
  all_.take(here);
  volume_mm3_ += bead.volume_mm3;
  last_layer_ = bead.layer;
  if (bead.layer > 1 || candidates_.size() == most_candidates) return;
  candidates_.push_back({.line = {bead.line, volume_mm3_, 0}, .before = all_, .behind = {}});
}

// The longest that something lies behind.
PurgeLineFinder::Candidate const* PurgeLineFinder::found() const {
  if (last_layer_ < 2) return nullptr;
  auto const found = std::ranges::find_if(candidates_.rbegin(),
                                          candidates_.rend(),
                                          [](Candidate const& c) { return !c.behind.empty(); });
  return found == candidates_.rend() ? nullptr : &*found;
}

PurgeLine PurgeLineFinder::purge_line() const {
  Candidate const* const candidate = found();
  return candidate == nullptr ? PurgeLine{} : candidate->line;
}

BeadBox PurgeLineFinder::part() const {
  Candidate const* const candidate = found();
  return candidate == nullptr ? all_ : candidate->behind;
}

}  // namespace meltlag::gcode
