// SPDX-License-Identifier: MIT
// What the screw delivers: backlash, what was wound back, the store, what it feeds for long.
#include <algorithm>
#include <cmath>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double nothing_mm = 1e-12;
constexpr double endless = std::numeric_limits<double>::infinity();

double volume_of(double rate, double slope, double seconds) {
  return rate * seconds + slope * seconds * seconds / 2;
}

// Time in which rate + slope t adds up to `volume`; endless where it never does.
double time_for(double volume, double rate, double slope) {
  if (volume <= 0) return 0;
  const double square = rate * rate + 2 * slope * volume;
  if (square < 0) return endless;
  const double ends = rate + std::sqrt(square);
  return ends > 0 ? 2 * volume / ends : endless;
}

// Where rate + slope t passes `level` inside (0, seconds).
void note_crossing(
    double rate, double slope, double level, double seconds, std::vector<double>& at) {
  if (slope == 0 || !std::isfinite(level)) return;
  const double t = (level - rate) / slope;
  if (t > 0 && t < seconds) at.push_back(t);
}

}  // namespace

Screw::Screw(const Plant& plant)
    : plant_(plant),
      q_(plant.max_flow_mm3_s.value_or(endless)),
      most_(plant.max_burst_mm3_s.value_or(endless)),
      slack_(plant.backlash_mm),
      store_(plant.burst_mm3) {}

void Screw::wait() { store_ = plant_.burst_mm3; }

// E still to be turned before the backlash is taken up in this direction.
double Screw::slack_mm(double e_per_mm) const {
  if (e_per_mm == 0) return 0;
  return e_per_mm > 0 ? plant_.backlash_mm - slack_ : slack_;
}

// Returns the time that the backlash takes.
double Screw::take_up(double v0, double a, double seconds, double e_per_mm) {
  const double slack = slack_mm(e_per_mm);
  if (slack <= nothing_mm) return 0;
  const double way = volume_of(v0, a, seconds);
  const double idle = std::min(way, slack / std::abs(e_per_mm));
  const double time = idle >= way ? seconds : std::min(seconds, time_for(idle, v0, a));
  slack_ = std::clamp(slack_ + idle * e_per_mm, 0.0, plant_.backlash_mm);
  return time;
}

std::vector<Feed> Screw::turn(double v0, double a, double seconds, double e_per_mm) {
  out_.clear();
  if (seconds <= 0) return {};
  const double idle = take_up(v0, a, seconds, e_per_mm);
  if (idle > 0) forward(0, 0, idle);
  const double factor = e_per_mm < 0 ? plant_.reverse_factor : 1;
  const double per_mm = e_per_mm * plant_.area_mm2() * plant_.delivered_factor * factor;
  deliver(per_mm * (v0 + a * idle), per_mm * a, seconds - idle);
  return std::move(out_);
}

void Screw::add(double u, double slope, double seconds) {
  if (seconds > 0) out_.push_back({seconds, u, slope});
}

void Screw::refill(double volume) { store_ = std::min(plant_.burst_mm3, store_ + volume); }

// x = rate + slope t of one sign over `seconds`.
void Screw::deliver(double x, double slope, double seconds) {
  if (seconds <= 0) return;
  if (volume_of(x, slope, seconds) < 0) {
    add(x, slope, seconds);
    wound_back_ -= volume_of(x, slope, seconds);
    return refill(q_ * seconds);
  }
  if (wound_back_ > 0) give_again(x, slope, seconds);
  forward(x, slope, seconds);
}

// Leaves in x and seconds what is left once nothing is wound back.
void Screw::give_again(double& x, double slope, double& seconds) {
  const double volume = volume_of(x, slope, seconds);
  const bool all = volume >= wound_back_;
  const double time = all ? std::min(seconds, time_for(wound_back_, x, slope)) : seconds;
  wound_back_ = all ? 0 : wound_back_ - volume;
  if (time <= 0) return;
  add(x, slope, time);
  refill(q_ * time);
  x += slope * time;
  seconds -= time;
}

// Nothing is wound back: cut where x passes q or max_burst, then each part is of one sort.
void Screw::forward(double x, double slope, double seconds) {
  std::vector<double> at{0, seconds};
  note_crossing(x, slope, q_, seconds, at);
  note_crossing(x, slope, most_, seconds, at);
  std::sort(at.begin(), at.end());
  for (std::size_t k = 0; k + 1 < at.size(); ++k) {
    const double time = at[k + 1] - at[k];
    if (time <= 0) continue;
    const double from = x + slope * at[k];
    const bool capped = from + slope * time / 2 > most_;
    const double y = capped ? most_ : from, y_slope = capped ? 0 : slope;
    if (y + y_slope * time / 2 > q_) {
      burst(from, slope, y, y_slope, time);
      continue;
    }
    add(y, y_slope, time);
    refill(std::isfinite(q_) ? volume_of(q_ - y, -y_slope, time) : plant_.burst_mm3);
    starved_ += volume_of(from - y, slope - y_slope, time);
  }
}

// y > q throughout: out of the store while there is any, then q.
void Screw::burst(double x, double slope, double y, double y_slope, double seconds) {
  const double asked = volume_of(y - q_, y_slope, seconds);
  const bool empties = asked > store_;
  const double time = empties ? std::min(seconds, time_for(store_, y - q_, y_slope)) : seconds;
  add(y, y_slope, time);
  store_ = empties ? 0 : store_ - asked;
  add(q_, 0, seconds - time);
  starved_ += volume_of(x, slope, seconds) - volume_of(y, y_slope, time) - q_ * (seconds - time);
}

}  // namespace meltlag_reference
