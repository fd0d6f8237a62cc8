// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "meltlag/motion/planner.hpp"

namespace meltlag::motion {
namespace {

// Length covered while the speed changes between `slow` and `fast`.
double ramp_mm(double slow_mm_s, double fast_mm_s, double acceleration_mm_s2) {
  if (!(fast_mm_s > slow_mm_s)) {
    return 0;
  }
  return (fast_mm_s - slow_mm_s) * (fast_mm_s + slow_mm_s) / (2 * acceleration_mm_s2);
}

// Time to cover `s` from speed v under acceleration a: the root of v·t + a·t²/2 = s that does not
// cancel.
double time_from(double v_mm_s, double a_mm_s2, double s_mm) {
  if (!(s_mm > 0)) {
    return 0;
  }
  return 2 * s_mm / (v_mm_s + std::sqrt(v_mm_s * v_mm_s + 2 * a_mm_s2 * s_mm));
}

}  // namespace

double Trapezoid::rise_s() const {
  return peak_mm_s > entry_mm_s ? (peak_mm_s - entry_mm_s) / acceleration_mm_s2 : 0;
}

double Trapezoid::fall_s() const {
  return peak_mm_s > exit_mm_s ? (peak_mm_s - exit_mm_s) / acceleration_mm_s2 : 0;
}

double Trapezoid::cruise_s() const {
  if (!(peak_mm_s > 0)) {
    return 0;
  }
  double const cruise_mm = length_mm - ramp_mm(entry_mm_s, peak_mm_s, acceleration_mm_s2) -
                           ramp_mm(exit_mm_s, peak_mm_s, acceleration_mm_s2);
  // What rounding leaves of a triangle's cruise is no phase.
  return cruise_mm > 1e-13 * length_mm ? cruise_mm / peak_mm_s : 0;
}

double Trapezoid::duration_s() const { return rise_s() + cruise_s() + fall_s(); }

double Trapezoid::distance_at(double t_s) const {
  double const rise = rise_s(), cruise = cruise_s();
  double const t = std::max(t_s, 0.0);
  if (t <= rise) {
    return std::min(length_mm, t * (entry_mm_s + 0.5 * acceleration_mm_s2 * t));
  }
  double const left = rise + cruise + fall_s() - t;
  if (!(left > 0)) {
    return length_mm;
  }
  if (t > rise + cruise) {
    return std::max(0.0, length_mm - left * (exit_mm_s + 0.5 * acceleration_mm_s2 * left));
  }
  double const risen = ramp_mm(entry_mm_s, peak_mm_s, acceleration_mm_s2);
  return std::min(length_mm, risen + peak_mm_s * (t - rise));
}

double Trapezoid::time_at(double s_mm) const {
  double const s = std::clamp(s_mm, 0.0, length_mm);
  double const risen = ramp_mm(entry_mm_s, peak_mm_s, acceleration_mm_s2);
  if (s <= risen) {
    return std::min(rise_s(), time_from(entry_mm_s, acceleration_mm_s2, s));
  }
  double const left = length_mm - s;
  if (left < ramp_mm(exit_mm_s, peak_mm_s, acceleration_mm_s2)) {
    return duration_s() - std::min(fall_s(), time_from(exit_mm_s, acceleration_mm_s2, left));
  }
  return rise_s() + (peak_mm_s > 0 ? std::min(cruise_s(), (s - risen) / peak_mm_s) : 0);
}

double Trapezoid::speed_at_time(double t_s) const {
  double const left = duration_s() - t_s;
  double const rising = entry_mm_s + acceleration_mm_s2 * std::max(t_s, 0.0);
  double const falling = exit_mm_s + acceleration_mm_s2 * std::max(left, 0.0);
  return std::min({peak_mm_s, rising, falling});
}

double Trapezoid::speed_at_distance(double s_mm) const {
  double const s = std::clamp(s_mm, 0.0, length_mm);
  double const rising = entry_mm_s * entry_mm_s + 2 * acceleration_mm_s2 * s;
  double const falling = exit_mm_s * exit_mm_s + 2 * acceleration_mm_s2 * (length_mm - s);
  return std::min(peak_mm_s, std::sqrt(std::min(rising, falling)));
}

}  // namespace meltlag::motion
