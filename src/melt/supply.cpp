// SPDX-License-Identifier: MIT
#include "meltlag/melt/supply.hpp"

#include <algorithm>
#include <cmath>

#include "ramp.hpp"

namespace meltlag::melt {
namespace {

constexpr double nothing = 1e-14;  // shares of a ramp or a volume that are rounding

// Cuts the first `t_s` off.
Ramp take_off(Ramp& asked, double t_s) {
  if (t_s >= asked.duration_s * (1 - nothing)) {
    Ramp const whole = asked;
    asked.duration_s = 0;
    return whole;
  }
  double const at = rate_at(asked, t_s);
  Ramp const first{t_s, asked.start_mm3_s, at};
  asked = {asked.duration_s - t_s, at, asked.end_mm3_s};
  return first;
}

// When a ramp passes `rate`; its whole duration where it does not on its way.
double time_to_pass(Ramp const& ramp, double rate) {
  bool const passes = (ramp.start_mm3_s < rate && ramp.end_mm3_s > rate) ||
                      (ramp.start_mm3_s > rate && ramp.end_mm3_s < rate);
  if (!passes) return ramp.duration_s;
  return ramp.duration_s * (rate - ramp.start_mm3_s) / (ramp.end_mm3_s - ramp.start_mm3_s);
}

}  // namespace

void Supply::set(double wound_back_mm3, double store_mm3) {
  wound_back_mm3_ = std::max(0.0, wound_back_mm3);
  store_mm3_ = std::clamp(store_mm3, 0.0, limits_.burst_mm3);
}

void Supply::refill(double duration_s, double drawn_mm3) {
  store_mm3_ += limits_.max_flow_mm3_s * duration_s - drawn_mm3;
  store_mm3_ =
      std::isnan(store_mm3_) ? limits_.burst_mm3 : std::clamp(store_mm3_, 0.0, limits_.burst_mm3);
}

Ramp Supply::step(Ramp& asked) {
  double const volume = asked.volume_mm3();
  if (volume <= 0) {
    Ramp const whole = take_off(asked, asked.duration_s);
    wound_back_mm3_ -= volume;
    refill(whole.duration_s, 0);
    return whole;
  }
  if (wound_back_mm3_ <= 0) return step_fresh(asked);
  Ramp const part = take_off(asked, time_to_bring(asked, wound_back_mm3_));
  // Where the ramp goes on, the part brought all there was.
  wound_back_mm3_ = asked.duration_s > 0 ? 0 : std::max(0.0, wound_back_mm3_ - part.volume_mm3());
  refill(part.duration_s, 0);
  return part;
}

// D = 0, x ≥ 0.
Ramp Supply::step_fresh(Ramp& asked) {
  double const q = limits_.max_flow_mm3_s, most = limits_.max_burst_mm3_s;
  double const t = std::min(time_to_pass(asked, q), time_to_pass(asked, most));
  Ramp const up_to{t, asked.start_mm3_s, rate_at(asked, t)};
  double const middle = (up_to.start_mm3_s + up_to.end_mm3_s) / 2;
  Ramp fed = up_to;
  if (middle > most) fed.start_mm3_s = fed.end_mm3_s = most;
  bool const above = std::min(middle, most) > q;
  if (above && store_mm3_ > 0) {
    Ramp const drawn{t, fed.start_mm3_s - q, fed.end_mm3_s - q};
    double const lasts = time_to_bring(drawn, store_mm3_);
    if (lasts < t * (1 - nothing)) {
      fed.end_mm3_s = rate_at(fed, lasts);
      fed.duration_s = lasts;
    }
  } else if (above) {
    fed.start_mm3_s = fed.end_mm3_s = q;
  }
  Ramp const turned = take_off(asked, fed.duration_s);
  fed.duration_s = turned.duration_s;
  bool const ran_out = above && store_mm3_ > 0 && fed.duration_s < t * (1 - nothing);
  starved_mm3_ += std::max(0.0, turned.volume_mm3() - fed.volume_mm3());
  refill(fed.duration_s, fed.volume_mm3());
  if (ran_out) store_mm3_ = 0;
  return fed;
}

}  // namespace meltlag::melt
