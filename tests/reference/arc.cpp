// SPDX-License-Identifier: MIT
// Arcs from I, J or R, and where a move is at a fraction of its way.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double nothing_mm = 1e-7;

bool find_centre(const Command& command, Turn turn, double unit, const Move& move, Arc& arc) {
  const double sx = move.start_mm[0], sy = move.start_mm[1];
  if (command.get('I') || command.get('J')) {
    arc.centre_x_mm = sx + command.get('I').value_or(0) * unit;
    arc.centre_y_mm = sy + command.get('J').value_or(0) * unit;
    return true;
  }
  const double r = command.get('R').value_or(0) * unit;
  const double dx = move.end_mm[0] - sx, dy = move.end_mm[1] - sy, d = std::hypot(dx, dy);
  if (d < nothing_mm || r == 0) return false;
  // The centre is left of the chord on a short anticlockwise arc; R < 0 means the long way.
  double h = std::sqrt(std::max(0.0, r * r - d * d / 4));
  if ((turn == Turn::clockwise) != (r < 0)) h = -h;
  arc.centre_x_mm = sx + dx / 2 - h * dy / d;
  arc.centre_y_mm = sy + dy / 2 + h * dx / d;
  return true;
}

}  // namespace

std::optional<Arc> make_arc(const Command& command, Turn turn, double unit_mm, const Move& move) {
  Arc arc;
  if (!find_centre(command, turn, unit_mm, move, arc)) return std::nullopt;
  const double sx = move.start_mm[0] - arc.centre_x_mm, sy = move.start_mm[1] - arc.centre_y_mm;
  const double ex = move.end_mm[0] - arc.centre_x_mm, ey = move.end_mm[1] - arc.centre_y_mm;
  arc.start_radius_mm = std::hypot(sx, sy);
  arc.end_radius_mm = std::hypot(ex, ey);
  if (arc.start_radius_mm < nothing_mm) return std::nullopt;
  arc.start_angle = std::atan2(sy, sx);
  const double sign = turn == Turn::clockwise ? -1 : 1;
  double turned = sign * (std::atan2(ey, ex) - arc.start_angle);
  while (turned <= 0) turned += 2 * pi;
  while (turned > 2 * pi) turned -= 2 * pi;
  const bool full = std::hypot(ex - sx, ey - sy) < nothing_mm;
  arc.sweep = sign * (full ? 2 * pi : turned);
  return arc;
}

Point Move::at(double f) const {
  Point p;
  for (std::size_t k = 0; k < 3; ++k) p[k] = start_mm[k] + f * (end_mm[k] - start_mm[k]);
  if (!arc) return p;
  const double r = arc->start_radius_mm + f * (arc->end_radius_mm - arc->start_radius_mm);
  const double angle = arc->start_angle + f * arc->sweep;
  p[0] = arc->centre_x_mm + r * std::cos(angle);
  p[1] = arc->centre_y_mm + r * std::sin(angle);
  return p;
}

}  // namespace meltlag_reference
