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

double Trapezoid::cruise_s() const { return TrapezoidPhases(*this).cruise_s(); }
double Trapezoid::duration_s() const { return TrapezoidPhases(*this).duration_s(); }
double Trapezoid::distance_at(double t_s) const { return TrapezoidPhases(*this).distance_at(t_s); }
double Trapezoid::time_at(double s_mm) const { return TrapezoidPhases(*this).time_at(s_mm); }
double Trapezoid::speed_at_time(double t_s) const {
  return TrapezoidPhases(*this).speed_at_time(t_s);
}

double Trapezoid::speed_at_distance(double s_mm) const {
  double const s = std::clamp(s_mm, 0.0, length_mm);
  double const rising = entry_mm_s * entry_mm_s + 2 * acceleration_mm_s2 * s;
  double const falling = exit_mm_s * exit_mm_s + 2 * acceleration_mm_s2 * (length_mm - s);
  return std::min(peak_mm_s, std::sqrt(std::min(rising, falling)));
}

TrapezoidPhases::TrapezoidPhases(Trapezoid const& speed)
    : speed_(speed),
      risen_mm_(ramp_mm(speed.entry_mm_s, speed.peak_mm_s, speed.acceleration_mm_s2)),
      fallen_mm_(ramp_mm(speed.exit_mm_s, speed.peak_mm_s, speed.acceleration_mm_s2)),
      rise_s_(speed.rise_s()),
      cruise_s_(0),
      fall_s_(speed.fall_s()) {
  double const cruise_mm = speed.length_mm - risen_mm_ - fallen_mm_;
  // What rounding leaves of a triangle's cruise is no phase.
  if (speed.peak_mm_s > 0 && cruise_mm > 1e-13 * speed.length_mm)
    cruise_s_ = cruise_mm / speed.peak_mm_s;
}

double TrapezoidPhases::distance_at(double t_s) const {
  double const t = std::max(t_s, 0.0);
  if (t <= rise_s_) {
    return std::min(speed_.length_mm,
                    t * (speed_.entry_mm_s + 0.5 * speed_.acceleration_mm_s2 * t));
  }
  double const left = duration_s() - t;
  if (!(left > 0)) {
    return speed_.length_mm;
  }
  if (t > rise_s_ + cruise_s_) {
    return std::max(
        0.0, speed_.length_mm - left * (speed_.exit_mm_s + 0.5 * speed_.acceleration_mm_s2 * left));
  }
  return std::min(speed_.length_mm, risen_mm_ + speed_.peak_mm_s * (t - rise_s_));
}

double TrapezoidPhases::time_at(double s_mm) const {
  double const s = std::clamp(s_mm, 0.0, speed_.length_mm);
  if (s <= risen_mm_) {
    return std::min(rise_s_, time_from(speed_.entry_mm_s, speed_.acceleration_mm_s2, s));
  }
  double const left = speed_.length_mm - s;
  if (left < fallen_mm_) {
    return duration_s() -
           std::min(fall_s_, time_from(speed_.exit_mm_s, speed_.acceleration_mm_s2, left));
  }
  return rise_s_ +
         (speed_.peak_mm_s > 0 ? std::min(cruise_s_, (s - risen_mm_) / speed_.peak_mm_s) : 0);
}

double TrapezoidPhases::speed_at_time(double t_s) const {
  double const left = duration_s() - t_s;
  double const rising = speed_.entry_mm_s + speed_.acceleration_mm_s2 * std::max(t_s, 0.0);
  double const falling = speed_.exit_mm_s + speed_.acceleration_mm_s2 * std::max(left, 0.0);
  return std::min({speed_.peak_mm_s, rising, falling});
}

}  // namespace meltlag::motion
