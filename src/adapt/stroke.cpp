// SPDX-License-Identifier: MIT
#include "stroke.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::adapt {
namespace {

constexpr double margin = 0.98;
constexpr int halvings = 60;
constexpr double least_stroke_e_mm =
    0.002;  // fewer would vanish in rounding, and the corner with it

motion::Trapezoid with_peak(motion::Trapezoid planned, double length_mm, double peak_mm_s) {
  planned.length_mm = length_mm;
  double const a = planned.acceleration_mm_s2;
  double const in = planned.entry_mm_s, out = planned.exit_mm_s;
  double const reach = std::sqrt(a * length_mm + (in * in + out * out) / 2);
  planned.peak_mm_s = std::max({std::min(peak_mm_s, reach), in, out});
  return planned;
}

// The way that E needs to change from one corner's speed to the other's.
double shortest(motion::Trapezoid const& planned) {
  double const in = planned.entry_mm_s, out = planned.exit_mm_s;
  return std::abs(in * in - out * out) / (2 * planned.acceleration_mm_s2);
}

// The least top speed at which E goes so far in the time of the stroke.
double slowest_top(PlannedMove const& planned, double way_mm) {
  motion::Trapezoid const& t = planned.speed;
  double slow = std::max({t.entry_mm_s, t.exit_mm_s, 1e-3});
  double fast = std::max(slow, margin * planned.max_e_mm_s);
  for (int i = 0; i < halvings && fast - slow > 1e-9 * fast; ++i) {
    double const top = (slow + fast) / 2;
    (with_peak(t, way_mm, top).duration_s() > planned.stroke_time_s ? slow : fast) = top;
  }
  return fast;
}

}  // namespace

double longest_stroke(PlannedMove const& planned) {
  double const t = planned.stroke_time_s, a = margin * planned.speed.acceleration_mm_s2;
  double const top = margin * planned.max_e_mm_s;
  return a * t / 2 <= top ? a * t * t / 4 : top * (t - top / a);
}

void set_stroke(PlannedMove& planned, double e_mm) {
  if (planned.stroke_time_s == 0) planned.stroke_time_s = planned.speed.duration_s();
  double const least = std::max(least_stroke_e_mm, 1.05 * shortest(planned.speed));
  double const way = std::max(std::abs(e_mm), least);
  planned.stroke_e_mm = e_mm < 0 || (e_mm == 0 && planned.move.e_mm < 0) ? -way : way;
  planned.top_mm_s = margin * planned.max_e_mm_s;
  if (planned.stroke_fills_time) planned.top_mm_s = slowest_top(planned, way);
  planned.speed = with_peak(planned.speed, way, planned.top_mm_s);
}

}  // namespace meltlag::adapt
