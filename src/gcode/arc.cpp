// SPDX-License-Identifier: MIT
#include "arc.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace meltlag::gcode {
namespace {

constexpr double full_turn_rad = 2 * std::numbers::pi;
constexpr double same_point_mm = 1e-6;

Vec3 unit(Vec3 v) {
  double const length = norm(v);
  return length > 0 ? (1 / length) * v : v;
}

// An arc whose end lies off its circle is a spiral: its radius goes evenly from the start's to
// this.
double end_radius_mm(Vec3 const& end_mm, Arc const& arc) {
  return std::hypot(component(end_mm, arc.axis_a) - arc.centre_a_mm,
                    component(end_mm, arc.axis_b) - arc.centre_b_mm);
}

int third_axis(Arc const& arc) { return 3 - arc.axis_a - arc.axis_b; }

}  // namespace

double component(Vec3 const& v, int axis) { return axis == 0 ? v.x : axis == 1 ? v.y : v.z; }
double& component(Vec3& v, int axis) { return axis == 0 ? v.x : axis == 1 ? v.y : v.z; }

ArcResult arc_by_centre(
    Vec3 start_mm, Vec3 end_mm, PlaneAxes axes, Turn turn, double centre_a_mm, double centre_b_mm) {
  Arc arc{.axis_a = axes.a, .axis_b = axes.b};
  arc.centre_a_mm = component(start_mm, axes.a) + centre_a_mm;
  arc.centre_b_mm = component(start_mm, axes.b) + centre_b_mm;
  arc.radius_mm = std::hypot(centre_a_mm, centre_b_mm);
  arc.start_rad = std::atan2(-centre_b_mm, -centre_a_mm);
  double const end_a = component(end_mm, axes.a) - arc.centre_a_mm;
  double const end_b = component(end_mm, axes.b) - arc.centre_b_mm;
  double const direction = turn == Turn::counter_clockwise ? 1 : -1;
  bool const closed = std::hypot(end_a + centre_a_mm, end_b + centre_b_mm) < same_point_mm;
  double turned = direction * (std::atan2(end_b, end_a) - arc.start_rad);
  if (turned < 0) turned += full_turn_rad;
  if (closed || turned == 0) turned = full_turn_rad;
  arc.sweep_rad = direction * turned;
  return {.arc = arc, .radius_off_mm = std::hypot(end_a, end_b) - arc.radius_mm};
}

ArcResult arc_by_radius(Vec3 start_mm, Vec3 end_mm, PlaneAxes axes, Turn turn, double radius_mm) {
  double const chord_a = component(end_mm, axes.a) - component(start_mm, axes.a);
  double const chord_b = component(end_mm, axes.b) - component(start_mm, axes.b);
  double const chord = std::hypot(chord_a, chord_b);
  if (chord < same_point_mm || radius_mm == 0) return {};
  double const short_by = std::max(0.0, chord / 2 - std::abs(radius_mm));
  double const radius = std::abs(radius_mm) + short_by;
  double const height = std::sqrt(std::max(0.0, radius * radius - chord * chord / 4));
  // Left of the chord lies the centre of a counter-clockwise arc of less than half a turn.
  bool const left = (turn == Turn::counter_clockwise) == (radius_mm > 0);
  double const shift = (left ? height : -height) / chord;
  ArcResult result = arc_by_centre(
      start_mm, end_mm, axes, turn, chord_a / 2 - shift * chord_b, chord_b / 2 + shift * chord_a);
  result.radius_off_mm = short_by;
  return result;
}

double path_length_mm(Vec3 start_mm, Vec3 end_mm, Arc const& arc) {
  double const straight = norm(end_mm - start_mm);
  if (arc.radius_mm == 0) return straight;
  double const growth = end_radius_mm(end_mm, arc) - arc.radius_mm;
  double const turned = (arc.radius_mm + growth / 2) * arc.sweep_rad;
  double const rise = component(end_mm - start_mm, third_axis(arc));
  return std::max(straight, std::hypot(turned, growth, rise));
}

Vec3 point_at(Move const& move, double s_mm) {
  if (!(s_mm > 0)) return move.start_mm;
  if (s_mm >= move.length_mm) return move.end_mm;
  double const share = s_mm / move.length_mm;
  Arc const& arc = move.arc;
  if (arc.radius_mm == 0) return move.start_mm + share * (move.end_mm - move.start_mm);
  double const angle = arc.start_rad + share * arc.sweep_rad;
  double const radius = arc.radius_mm + share * (end_radius_mm(move.end_mm, arc) - arc.radius_mm);
  Vec3 point;
  component(point, arc.axis_a) = arc.centre_a_mm + radius * std::cos(angle);
  component(point, arc.axis_b) = arc.centre_b_mm + radius * std::sin(angle);
  int const third = third_axis(arc);
  double const from = component(move.start_mm, third);
  component(point, third) = from + share * (component(move.end_mm, third) - from);
  return point;
}

Vec3 direction_at(Move const& move, double s_mm) {
  Arc const& arc = move.arc;
  if (move.length_mm == 0) return {};
  if (arc.radius_mm == 0) return unit(move.end_mm - move.start_mm);
  double const share = std::clamp(s_mm / move.length_mm, 0.0, 1.0);
  double const angle = arc.start_rad + share * arc.sweep_rad;
  double const growth = end_radius_mm(move.end_mm, arc) - arc.radius_mm;
  double const turned = (arc.radius_mm + share * growth) * arc.sweep_rad;
  Vec3 along;
  component(along, arc.axis_a) = growth * std::cos(angle) - turned * std::sin(angle);
  component(along, arc.axis_b) = growth * std::sin(angle) + turned * std::cos(angle);
  int const third = third_axis(arc);
  component(along, third) = component(move.end_mm - move.start_mm, third);
  return unit(along);
}

}  // namespace meltlag::gcode
