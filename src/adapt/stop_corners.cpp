// SPDX-License-Identifier: MIT
#include "stop_corners.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace meltlag::adapt {
namespace {

constexpr double room = 0.01;  // of E's own direction: what rounding may change

constexpr double steady_share =
    0.9;  // of E's greatest speed, farther from it than the cuts' limits

struct Corner {
  double speed_mm_s;
  bool by_e;    // E's jump sets it
  double rate;  // of the path that makes the printer take it so
};

// `rate`: of the path at the corner; `turns`: ±1, the way the screw turns alone; `jump_mm_s`: in
// force at the second of the two moves, which is what the printer goes by.
Corner corner(PlannedMove const& path,
              double at_mm,
              double rate,
              double turns,
              double stop_top_mm_s,
              motion::PerAxis const& jump_mm_s) {
  Vec3 const along = gcode::direction_at(path.move, at_mm);
  double const axes[] = {std::abs(along.x), std::abs(along.y), std::abs(along.z)};
  double speed = std::min(path.top_mm_s, stop_top_mm_s);
  for (std::size_t k = 0; k < 3; ++k) {
    if (axes[k] > 1e-9) speed = std::min(speed, jump_mm_s[k] / axes[k]);
  }
  // No slower than with no E on the path: where E turns against the stop the head only waits
  // longer.
  double const change = std::clamp(std::abs(turns - rate), 1e-9, 1.0);
  double const by_e = jump_mm_s[motion::axis_e] / change;
  // A little faster than it will be: merged cuts and rounded E move the corner.
  return {
      (1 + 2 * room) * std::min(speed, by_e), by_e <= speed * (1 + 2 * room), turns * (1 - change)};
}

// The corner gets faster as the path's rate comes closer to the screw's own direction.
void allow_no_faster(double rate, double turns, RateBounds& bounds) {
  (turns > 0 ? bounds.high : bounds.low) = rate + (turns > 0 ? 1 : -1) * room * 1e-3;
}

bool is_path(PlannedMove const& planned) { return planned.move.length_mm > 0; }
bool is_screw(PlannedMove const& planned) {
  return planned.move.kind == gcode::MoveKind::e_only &&
         planned.extrusion != ExtrusionPolicy::absorbed;
}

bool is_kept(PlannedMove const& planned) {
  return planned.move.kind == gcode::MoveKind::e_only &&
         planned.extrusion == ExtrusionPolicy::as_written;
}

bool rests_between(PlannedMove const& before) {
  return before.dwell_after_s > 0 || before.wait_after;
}

}  // namespace

void keep_stop_corners(std::span<PlannedMove* const> moves) {
  PlannedMove* past = nullptr;
  for (PlannedMove* const now : moves) {
    if (now->extrusion == ExtrusionPolicy::absorbed) continue;
    PlannedMove* const before = std::exchange(past, now);
    if (before == nullptr || rests_between(*before)) continue;
    bool const into = is_path(*before) && is_kept(*now);
    if (!into && !(is_kept(*before) && is_path(*now))) continue;
    PlannedMove& path = into ? *before : *now;
    if (path.extrusion != ExtrusionPolicy::free_rate) continue;
    double const rate = path.move.e_mm / path.move.length_mm;
    double const e = (into ? *now : *before).move.e_mm;
    RateBounds& bounds = into ? path.at_end : path.at_start;
    // E's speed changes by no more than as sliced, whichever way.
    double const turns = e < 0 ? -1 : 1, change = std::abs(turns - rate);
    // But no more than the screw can keep up all along the path, whose speed is planned without E.
    double const steady = steady_share * path.max_e_mm_s / std::max(path.top_mm_s, 1e-9);
    bounds.low = std::min(turns - change, steady);
    bounds.high = std::max(turns + change, -steady);
  }
}

bool set_stop_corners(std::span<PlannedMove* const> moves,
                      std::vector<CutRange> const& ranges,
                      std::vector<double> const& rates) {
  bool changed = false;
  std::size_t last = moves.size();  // the move before, absorbed ones passed over
  for (std::size_t m = 0; m < moves.size(); ++m) {
    PlannedMove& now = *moves[m];
    if (now.extrusion == ExtrusionPolicy::absorbed) continue;
    std::size_t const before = std::exchange(last, m);
    if (before == moves.size() || now.entry_limit_mm_s <= 0) continue;
    PlannedMove& past = *moves[before];
    bool const into = is_path(past) && is_screw(now), out = is_screw(past) && is_path(now);
    if ((!into && !out) || rests_between(past)) continue;
    PlannedMove& path = into ? past : now;
    PlannedMove const& stop = into ? now : past;
    CutRange const range = ranges[into ? before : m];
    double const rate = rates[into ? range.first + range.count - 1 : range.first];
    double const e = stop.stroke_e_mm != 0 ? stop.stroke_e_mm : stop.move.e_mm;
    double const turns = e < 0 ? -1 : 1;
    double const at_mm = into ? path.move.length_mm : 0;
    Corner const found = corner(path, at_mm, rate, turns, stop.top_mm_s, now.jump_mm_s);
    changed |= std::abs(found.speed_mm_s - now.entry_limit_mm_s) > 3 * room * found.speed_mm_s;
    now.entry_limit_mm_s = found.speed_mm_s;
    if (found.by_e) allow_no_faster(found.rate, turns, into ? path.at_end : path.at_start);
  }
  return changed;
}

}  // namespace meltlag::adapt
