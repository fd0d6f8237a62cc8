// SPDX-License-Identifier: MIT
// Look-ahead trapezoids over each stretch between halts.
#include <algorithm>
#include <cmath>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

// One move as the planner sees it. Directions are displacement per mm of path.
struct Segment {
  std::size_t move = 0;
  double length = 0, speed = 0, acceleration = 0;
  PerAxis in{}, out{};  // at its start and at its end
  bool e_only = false;
  bool drop_e = false;  // no E limits on it nor at its ends
};

void straight_or_tangent(const Move& move, Segment& s) {
  const double z = (move.end_mm[2] - move.start_mm[2]) / move.length_mm;
  for (std::size_t k = 0; k < 3; ++k) {
    s.in[k] = s.out[k] = (move.end_mm[k] - move.start_mm[k]) / move.length_mm;
  }
  if (!move.arc) return;
  const double flat = std::sqrt(std::max(0.0, 1 - z * z));
  const double side = move.arc->sweep > 0 ? flat : -flat;
  const double a0 = move.arc->start_angle, a1 = a0 + move.arc->sweep;
  s.in = {-side * std::sin(a0), side * std::cos(a0), z, 0};
  s.out = {-side * std::sin(a1), side * std::cos(a1), z, 0};
}

// Largest |displacement per mm| of each axis anywhere on the move.
PerAxis steepest(const Move& move, const Segment& s) {
  PerAxis u{};
  for (std::size_t k = 0; k < 4; ++k) u[k] = std::max(std::abs(s.in[k]), std::abs(s.out[k]));
  if (!move.arc) return u;
  const double flat = std::hypot(s.in[0], s.in[1]);
  u[0] = u[1] = flat;  // an arc may point anywhere in its plane
  return u;
}

Segment make_segment(const Move& move, std::size_t index, PlanMode mode) {
  Segment s;
  s.move = index;
  const Limits& limits = move.limits;
  if (move.kind == MoveKind::e_only) {
    s.e_only = true;
    s.length = std::abs(move.e_mm);
    s.in[axis_e] = s.out[axis_e] = move.e_mm > 0 ? 1 : -1;
    s.speed = std::min(move.feed_mm_s, limits.max_speed_mm_s[axis_e]);
    s.acceleration =
        std::min(limits.max_acceleration_mm_s2[axis_e], limits.retract_acceleration_mm_s2);
    return s;
  }
  s.length = move.length_mm;
  s.drop_e = move.drop_e_limits;
  straight_or_tangent(move, s);
  if (mode == PlanMode::full && !move.drop_e_limits) {
    s.in[axis_e] = s.out[axis_e] = move.e_mm / move.length_mm;
  }
  s.speed = move.feed_mm_s;
  s.acceleration = move.travels ? limits.travel_acceleration_mm_s2 : limits.acceleration_mm_s2;
  const PerAxis u = steepest(move, s);
  for (std::size_t k = 0; k < 4; ++k) {
    if (u[k] < 1e-12) continue;
    s.speed = std::min(s.speed, limits.max_speed_mm_s[k] / u[k]);
    s.acceleration = std::min(s.acceleration, limits.max_acceleration_mm_s2[k] / u[k]);
  }
  return s;
}

double rounded_corner(const Segment& a, const Segment& b, double rounding_mm) {
  if (a.e_only != b.e_only) return 0;  // the head stands still in one of them
  if (a.e_only) return std::min(a.speed, b.speed);
  double dot = 0;
  for (std::size_t k = 0; k < 3; ++k) dot += a.out[k] * b.in[k];
  const double half = std::sqrt(std::max(0.0, (1 + std::clamp(dot, -1.0, 1.0)) / 2));
  if (half > 1 - 1e-12) return std::min(a.speed, b.speed);
  const double radius = rounding_mm * half / (1 - half);
  return std::sqrt(std::min(a.acceleration, b.acceleration) * radius);
}

double junction_speed(const Segment& a,
                      const Segment& b,
                      const Limits& limits,
                      const Machine& machine) {
  if (machine.stops_halt && (a.e_only || b.e_only)) return 0;
  double v = std::min(a.speed, b.speed);
  const bool rounding = machine.rule == CornerRule::rounding;
  if (rounding) v = std::min(v, rounded_corner(a, b, machine.rounding_mm));
  for (std::size_t k = rounding ? axis_e : axis_x; k < 4; ++k) {
    const bool screw = k == axis_e && (a.drop_e || b.drop_e) && a.e_only == b.e_only;
    if (screw) continue;
    const double change = std::abs(b.in[k] - a.out[k]);
    if (change > 1e-12) v = std::min(v, limits.jump_mm_s[k] / change);
  }
  return v;
}

Timed trapezoid(const Segment& s, double v_in, double v_out) {
  Timed t;
  t.length_mm = s.length;
  t.v_in_mm_s = v_in;
  t.v_out_mm_s = v_out;
  t.a_mm_s2 = s.acceleration;
  const double meet = (2 * s.acceleration * s.length + v_in * v_in + v_out * v_out) / 2;
  t.v_peak_mm_s = std::max({std::min(s.speed, std::sqrt(meet)), v_in, v_out});
  t.accelerate_s = (t.v_peak_mm_s - v_in) / s.acceleration;
  t.brake_s = (t.v_peak_mm_s - v_out) / s.acceleration;
  const double ramps =
      (v_in + t.v_peak_mm_s) / 2 * t.accelerate_s + (v_out + t.v_peak_mm_s) / 2 * t.brake_s;
  t.cruise_s = std::max(0.0, s.length - ramps) / t.v_peak_mm_s;
  return t;
}

void plan_stretch(const std::vector<Segment>& segments,
                  const Program& program,
                  const Machine& machine,
                  std::vector<Timed>& timed) {
  const std::size_t n = segments.size();
  if (n == 0) return;
  std::vector<double> v(n + 1, 0.0);  // v[i]: speed at the start of segment i
  for (std::size_t i = 1; i < n; ++i) {
    v[i] = junction_speed(
        segments[i - 1], segments[i], program.moves[segments[i].move].limits, machine);
  }
  const auto reach = [&](double from, const Segment& s) {
    return std::sqrt(from * from + 2 * s.acceleration * s.length);
  };
  for (std::size_t i = n; i-- > 0;) v[i] = std::min(v[i], reach(v[i + 1], segments[i]));
  for (std::size_t i = 0; i < n; ++i) v[i + 1] = std::min(v[i + 1], reach(v[i], segments[i]));
  for (std::size_t i = 0; i < n; ++i) {
    timed[segments[i].move] = trapezoid(segments[i], v[i], v[i + 1]);
  }
}

}  // namespace

std::vector<Timed> plan(const Program& program, const Machine& machine, PlanMode mode) {
  std::vector<Timed> timed(program.moves.size());
  std::vector<Segment> stretch;
  std::size_t next_halt = 0;
  for (std::size_t i = 0; i <= program.moves.size(); ++i) {
    bool stop = i == program.moves.size();
    while (next_halt < program.halts.size() && program.halts[next_halt].before_move == i) {
      stop = true;
      ++next_halt;
    }
    if (stop) {
      plan_stretch(stretch, program, machine, timed);
      stretch.clear();
    }
    if (i == program.moves.size()) break;
    const Move& move = program.moves[i];
    if (mode == PlanMode::path_only && move.kind == MoveKind::e_only) continue;
    stretch.push_back(make_segment(move, i, mode));
  }
  return timed;
}

double total_time_s(const std::vector<Timed>& timed, const Program& program) {
  double sum = 0;
  for (const Timed& t : timed) sum += t.duration_s();
  for (const Halt& halt : program.halts) sum += halt.seconds;
  return sum;
}

}  // namespace meltlag_reference
