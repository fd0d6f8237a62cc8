// SPDX-License-Identifier: MIT
#include "geometry.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::motion {
namespace {

// Smaller differences of direction are rounding, not corners.
constexpr double same_direction = 1e-9;
// F0, or a limit of 0 in a profile, must not stop the clock.
constexpr double slowest_mm_s = 1e-3;
constexpr double gentlest_mm_s2 = 1e-3;

PerAxis with_e(Vec3 xyz, double e) { return {xyz.x, xyz.y, xyz.z, e}; }

// Largest displacement of each axis per mm anywhere on the move. In an arc's plane either axis may
// take the whole in-plane share.
PerAxis worst_per_mm(gcode::Move const& move, Ends const& ends) {
  PerAxis worst = ends.first;
  if (move.arc.radius_mm > 0 && move.length_mm > 0) {
    double const in_plane = std::abs(move.arc.radius_mm * move.arc.sweep_rad) / move.length_mm;
    worst[move.arc.axis_a] = worst[move.arc.axis_b] = std::min(1.0, in_plane);
  }
  return worst;
}

double jump_speed(PerAxis const& in, PerAxis const& out, PerAxis const& jump, std::size_t first) {
  double speed = std::numeric_limits<double>::infinity();
  for (std::size_t k = first; k < jump.size(); ++k) {
    double const change = std::abs(out[k] - in[k]);
    if (change > same_direction) {
      speed = std::min(speed, jump[k] / change);
    }
  }
  return speed;
}

// Circle tangent to both directions: r = δ·cos(θ/2)/(1 − cos(θ/2)), v² = a·r. A move of E alone has
// no direction: the head rests where such a move meets one of XYZ.
double rounding_speed(CornerSide const& in, CornerSide const& out, double deviation_mm) {
  Vec3 const a{in.per_mm[0], in.per_mm[1], in.per_mm[2]};
  Vec3 const b{out.per_mm[0], out.per_mm[1], out.per_mm[2]};
  double const rests_a = dot(a, a) < 0.5 ? 1 : 0, rests_b = dot(b, b) < 0.5 ? 1 : 0;
  if (rests_a + rests_b > 0) {
    return rests_a + rests_b > 1 ? std::numeric_limits<double>::infinity() : 0;
  }
  // 1 − cos θ = |b − a|²/2 does not cancel for small angles; 1 − cos(θ/2) from it likewise.
  double const sin2_half = std::min(1.0, dot(b - a, b - a) / 4);
  if (sin2_half < same_direction * same_direction) {
    return std::numeric_limits<double>::infinity();
  }
  double const cos_half = std::sqrt(1 - sin2_half);
  double const radius = deviation_mm * cos_half * (1 + cos_half) / sin2_half;
  return std::sqrt(std::min(in.acceleration_mm_s2, out.acceleration_mm_s2) * radius);
}

}  // namespace

Ends ends_of(gcode::Move const& move, PlanE e) {
  if (move.kind == gcode::MoveKind::e_only) {
    PerAxis const turn{0, 0, 0, e == PlanE::ignored ? 0 : std::copysign(1.0, move.e_mm)};
    return {turn, turn};
  }
  if (!(move.length_mm > 0)) {
    return {};
  }
  double const per_mm = 1 / move.length_mm;
  double const e_per_mm = e == PlanE::ignored ? 0 : move.e_mm * per_mm;
  if (move.arc.radius_mm > 0) {
    return {with_e(gcode::direction_at(move, 0), e_per_mm),
            with_e(gcode::direction_at(move, move.length_mm), e_per_mm)};
  }
  PerAxis const straight = with_e(per_mm * (move.end_mm - move.start_mm), e_per_mm);
  return {straight, straight};
}

namespace {

// Does the travel acceleration hold?
bool is_travel(gcode::Move const& move, Limits const& limits) {
  return limits.travel_rule == TravelRule::rapid ? move.rapid
                                                 : move.kind == gcode::MoveKind::travel;
}

}  // namespace

MoveLimits limits_of(gcode::Move const& move, Ends const& ends, Limits const& limits) {
  bool const e_only = move.kind == gcode::MoveKind::e_only;
  double speed = move.feed_mm_s;
  double acceleration =
      e_only ? std::min(limits.max_acceleration_mm_s2[axis_e], limits.retract_acceleration_mm_s2)
      : is_travel(move, limits) ? limits.travel_acceleration_mm_s2
                                : limits.acceleration_mm_s2;
  PerAxis const worst = worst_per_mm(move, ends);
  for (std::size_t k = 0; k < worst.size(); ++k) {
    double const share = std::abs(worst[k]);
    // Products instead of quotients: a share of 0 sets no limit.
    if (speed * share > limits.max_speed_mm_s[k]) {
      speed = limits.max_speed_mm_s[k] / share;
    }
    if (acceleration * share > limits.max_acceleration_mm_s2[k]) {
      acceleration = limits.max_acceleration_mm_s2[k] / share;
    }
  }
  return {.length_mm = std::max(0.0, e_only ? std::abs(move.e_mm) : move.length_mm),
          .speed_mm_s = speed > slowest_mm_s ? speed : slowest_mm_s,
          .acceleration_mm_s2 = acceleration > gentlest_mm_s2 ? acceleration : gentlest_mm_s2};
}

double corner_speed_of(CornerSide const& in, CornerSide const& out, Limits const& limits) {
  double const both = std::min(in.speed_mm_s, out.speed_mm_s);
  if (limits.corner_rule == CornerRule::jump) {
    return std::min(both, jump_speed(in.per_mm, out.per_mm, limits.corner_jump_mm_s, 0));
  }
  double const e_jump = jump_speed(in.per_mm, out.per_mm, limits.corner_jump_mm_s, axis_e);
  return std::min({both, e_jump, rounding_speed(in, out, limits.corner_rounding_mm)});
}

MoveLimits move_limits(gcode::Move const& move, Limits const& limits, PlanE e) {
  return limits_of(move, ends_of(move, e), limits);
}

double corner_speed(gcode::Move const& before,
                    gcode::Move const& after,
                    Limits const& limits,
                    PlanE e) {
  Ends const a = ends_of(before, e), b = ends_of(after, e);
  MoveLimits const la = limits_of(before, a, limits), lb = limits_of(after, b, limits);
  return corner_speed_of({a.last, la.speed_mm_s, la.acceleration_mm_s2},
                         {b.first, lb.speed_mm_s, lb.acceleration_mm_s2},
                         limits);
}

}  // namespace meltlag::motion
