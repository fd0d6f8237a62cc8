// SPDX-License-Identifier: MIT
#include "speed_profile.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::adapt {
namespace {

double peak_of(motion::TrapezoidPhases const& t, double from_s, double to_s) {
  double const rise = t.rise_s(), cruise_end = rise + t.cruise_s();
  if (from_s <= cruise_end && to_s >= rise) return t.peak_mm_s();
  return std::max(t.speed_at_time(from_s), t.speed_at_time(to_s));
}

}  // namespace

double as_written_speed(gcode::Move const& move, double speed_mm_s) {
  double const per_word = move.feed_mm_s / move.feed_word;
  double const word = speed_mm_s / per_word;
  double const steps = move.write.mm_per_unit > 1 ? 1000 : word < 200 ? 10 : 1;
  return std::floor(word * steps + 1e-6) / steps * per_word;
}

PacedStretch const& SpeedProfile::at_time(double t_s) const {
  auto const after =
      std::upper_bound(paced_.begin(), paced_.end(), t_s, [](double t, PacedStretch const& s) {
        return t < s.begin_s;
      });
  return after == paced_.begin() ? paced_.front() : *(after - 1);
}

double time_of(PlannedMove const& record) {
  return SpeedProfile(record).duration_s() + record.dwell_after_s;
}

double SpeedProfile::duration_s() const {
  if (paced_.empty()) return phases_.duration_s();
  return paced_.back().begin_s + paced_.back().speed.duration_s();
}

double SpeedProfile::entry_mm_s() const {
  return paced_.empty() ? whole_.entry_mm_s : paced_.front().speed.entry_mm_s;
}

double SpeedProfile::exit_mm_s() const {
  return paced_.empty() ? whole_.exit_mm_s : paced_.back().speed.exit_mm_s;
}

double SpeedProfile::distance_at(double t_s) const {
  if (paced_.empty()) return phases_.distance_at(t_s);
  PacedStretch const& s = at_time(t_s);
  return s.begin_mm + s.speed.distance_at(t_s - s.begin_s);
}

double SpeedProfile::time_at(double s_mm) const {
  if (paced_.empty()) return phases_.time_at(s_mm);
  auto const after =
      std::upper_bound(paced_.begin(), paced_.end(), s_mm, [](double at, PacedStretch const& s) {
        return at < s.begin_mm;
      });
  PacedStretch const& s = after == paced_.begin() ? paced_.front() : *(after - 1);
  return s.begin_s + s.speed.time_at(s_mm - s.begin_mm);
}

double SpeedProfile::speed_at_time(double t_s) const {
  if (paced_.empty()) return phases_.speed_at_time(t_s);
  PacedStretch const& s = at_time(t_s);
  return s.speed.speed_at_time(t_s - s.begin_s);
}

double SpeedProfile::peak_between(double from_s, double to_s) const {
  if (paced_.empty()) return peak_of(phases_, from_s, to_s);
  double peak = 0;
  for (PacedStretch const* s = &at_time(from_s); s <= &paced_.back(); ++s) {
    if (s->begin_s > to_s) break;
    peak = std::max(
        peak, peak_of(motion::TrapezoidPhases(s->speed), from_s - s->begin_s, to_s - s->begin_s));
  }
  return peak;
}

void SpeedProfile::phase_ends(std::vector<double>& times_s) const {
  auto const add = [&](double begin_s, motion::TrapezoidPhases const& t) {
    times_s.push_back(begin_s + t.rise_s());
    times_s.push_back(begin_s + (t.rise_s() + t.cruise_s()));
  };
  if (paced_.empty()) return add(0, phases_);
  for (PacedStretch const& s : paced_) {
    if (s.begin_s > 0) times_s.push_back(s.begin_s);
    add(s.begin_s, motion::TrapezoidPhases(s.speed));
  }
}

}  // namespace meltlag::adapt
