// SPDX-License-Identifier: MIT
#include "meltlag/compare/clock.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::compare {
namespace {

constexpr double finest_s = 0.002;       // of the search
constexpr double most_work = 5e7;        // products in the coarse search
constexpr std::size_t most_rows = 5000;  // looked at in the fine search
constexpr std::size_t candidates = 12;   // of the coarse search, refined

struct Rows {
  std::vector<double> t, y;
};

struct Fit {
  double r = -2;        // correlation
  double slope_sd = 0;  // of the offset
};

// Correlation of y with the trace at t + offset.
Fit fit_at(Rows const& rows, Trace const& trace, double offset_s) {
  auto const n = static_cast<double>(rows.t.size());
  double sx = 0, sy = 0, sxx = 0, syy = 0, sxy = 0, sdd = 0;
  for (std::size_t i = 0; i < rows.t.size(); ++i) {
    double const at = rows.t[i] + offset_s;
    double const x = trace.at(at), y = rows.y[i];
    double const d = (trace.at(at + trace.step_s) - trace.at(at - trace.step_s)) / 2 / trace.step_s;
    sx += x;
    sy += y;
    sxx += x * x;
    syy += y * y;
    sxy += x * y;
    sdd += d * d;
  }
  double const vx = sxx - sx * sx / n, vy = syy - sy * sy / n, vxy = sxy - sx * sy / n;
  if (!(vx > 0) || !(vy > 0)) return {};
  double const gain = vxy / vx, left = std::max(0.0, vy - gain * vxy);
  double const bend = gain * gain * sdd;
  return {.r = vxy / std::sqrt(vx * vy),
          .slope_sd = bend > 0 ? std::sqrt(left / std::max(1.0, n - 3) / bend) : 0};
}

// Means over bins of width `step_s`.
Rows binned(std::span<double const> t, std::span<double const> y, double step_s) {
  Rows out;
  std::vector<double> counts;
  double bin = 0;
  for (std::size_t i = 0; i < t.size(); ++i) {
    double const here = std::floor((t[i] - t.front()) / step_s);
    if (out.t.empty() || here != bin) {
      out.t.push_back(0);
      out.y.push_back(0);
      counts.push_back(0);
      bin = here;
    }
    out.t.back() += t[i];
    out.y.back() += y[i];
    counts.back() += 1;
  }
  for (std::size_t k = 0; k < counts.size(); ++k) {
    out.t[k] /= counts[k];
    out.y[k] /= counts[k];
  }
  return out;
}

Trace smoothed(Trace const& trace, double step_s) {
  auto const width = static_cast<std::size_t>(std::max(1.0, std::round(step_s / trace.step_s)));
  if (width == 1) return trace;
  Trace out{.from_s = trace.from_s + trace.step_s * static_cast<double>(width - 1) / 2,
            .step_s = trace.step_s * static_cast<double>(width),
            .values = {}};
  for (std::size_t i = 0; i < trace.values.size(); i += width) {
    std::size_t const end = std::min(i + width, trace.values.size());
    double sum = 0;
    for (std::size_t k = i; k < end; ++k) sum += trace.values[k];
    out.values.push_back(sum / static_cast<double>(end - i));
  }
  return out;
}

struct Candidate {
  double offset_s, r;
};

std::vector<Candidate> coarse(std::span<double const> t,
                              std::span<double const> y,
                              Trace const& trace,
                              double step_s) {
  Rows const rows = binned(t, y, step_s);
  Trace const smooth = smoothed(trace, step_s);
  std::vector<Candidate> all;
  double const first = trace.from_s - t.back(), last = trace.to_s() - t.front();
  for (double offset = first; offset <= last; offset += step_s)
    all.push_back({offset, fit_at(rows, smooth, offset).r});
  std::vector<Candidate> peaks;
  for (std::size_t i = 0; i < all.size(); ++i) {
    bool const above_left = i == 0 || all[i].r >= all[i - 1].r;
    bool const above_right = i + 1 == all.size() || all[i].r >= all[i + 1].r;
    if (above_left && above_right) peaks.push_back(all[i]);
  }
  std::ranges::sort(peaks, std::greater<>{}, &Candidate::r);
  if (peaks.size() > candidates) peaks.resize(candidates);
  return peaks;
}

// Climbs from a candidate in ever smaller steps.
Candidate refined(Rows const& rows, Trace const& trace, Candidate from, double step_s) {
  from.r = fit_at(rows, trace, from.offset_s).r;
  for (double step = step_s / 2; step > finest_s / 2;) {
    Candidate best = from;
    for (double const side : {-step, step}) {
      double const r = fit_at(rows, trace, from.offset_s + side).r;
      if (r > best.r) best = {from.offset_s + side, r};
    }
    if (best.offset_s == from.offset_s) step /= 2;
    from = best;
  }
  return from;
}

Rows thinned(std::span<double const> t, std::span<double const> y) {
  Rows out;
  std::size_t const step = (t.size() + most_rows - 1) / most_rows;
  for (std::size_t i = 0; i < t.size(); i += step) {
    out.t.push_back(t[i]);
    out.y.push_back(y[i]);
  }
  return out;
}

double coarse_step(double span_s, Trace const& trace) {
  double const length = trace.to_s() - trace.from_s;
  double const affordable = std::sqrt(span_s * (span_s + length) / most_work);
  return std::max({trace.step_s, span_s / 400, affordable, 0.02});
}

// Where each half of the rows would have the clock, near `offset_s`.
void find_drift(Rows const& rows, Trace const& trace, Clock& clock) {
  std::size_t const half = rows.t.size() / 2;
  if (half < least_clock_rows) return;
  auto const part = [&](std::size_t from, std::size_t to) {
    auto const begin = static_cast<std::ptrdiff_t>(from), end = static_cast<std::ptrdiff_t>(to);
    return Rows{{rows.t.begin() + begin, rows.t.begin() + end},
                {rows.y.begin() + begin, rows.y.begin() + end}};
  };
  Rows const early = part(0, half), late = part(half, rows.t.size());
  Candidate const a = refined(early, trace, {clock.offset_s, 0}, 0.5);
  Candidate const b = refined(late, trace, {clock.offset_s, 0}, 0.5);
  Fit const fit_a = fit_at(early, trace, a.offset_s), fit_b = fit_at(late, trace, b.offset_s);
  if (fit_a.r < 0.5 || fit_b.r < 0.5) return;
  clock.drift_s = b.offset_s - a.offset_s;
  clock.drift_sd_s = std::hypot(fit_a.slope_sd, fit_b.slope_sd);
  clock.drift_over_s = (late.t.front() + late.t.back() - early.t.front() - early.t.back()) / 2;
}

}  // namespace

double Trace::to_s() const {
  return from_s + step_s * static_cast<double>(values.empty() ? 0 : values.size() - 1);
}

double Trace::at(double t_s) const {
  double const place = (t_s - from_s) / step_s;
  if (!(place > 0)) return values.front();
  if (place >= static_cast<double>(values.size() - 1)) return values.back();
  auto const i = static_cast<std::size_t>(place);
  double const part = place - static_cast<double>(i);
  return values[i] + part * (values[i + 1] - values[i]);
}

Clock find_clock(std::span<double const> times_s,
                 std::span<double const> values,
                 Trace const& trace) {
  Clock clock;
  if (times_s.size() < least_clock_rows || trace.values.size() < 2) return clock;
  double const step = coarse_step(times_s.back() - times_s.front(), trace);
  Rows const rows = thinned(times_s, values);
  Candidate best{0, -2};
  for (Candidate const& candidate : coarse(times_s, values, trace, step)) {
    Candidate const fine = refined(rows, trace, candidate, 2 * step);
    if (fine.r > best.r) best = fine;
  }
  if (!(best.r > 0)) return clock;
  clock.found = true;
  clock.offset_s = best.offset_s;
  clock.correlation = best.r;
  clock.sd_s = fit_at(rows, trace, best.offset_s).slope_sd;
  find_drift(rows, trace, clock);
  return clock;
}

}  // namespace meltlag::compare
