// SPDX-License-Identifier: MIT
#include "meltlag/melt/heat_barrier.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numeric>

#include "meltlag/base/error.hpp"
#include "meltlag/base/vec.hpp"

namespace meltlag::melt {
namespace {

constexpr double m_per_mm = 1e-3, cm3_per_mm3 = 1e-3;
constexpr int points_per_step = 20;

double conductance_w_mm_k(HeatBarrier const& barrier, TubeStep const& step) {
  TubeAreas const a = areas(step);
  return m_per_mm * (step.conductivity_w_m_k * a.wall + barrier.screw_conductivity_w_m_k * a.core +
                     barrier.plastic_conductivity_w_m_k * a.plastic);
}

// T along the resistance coordinate, in shares of the difference between the ends.
class Profile {
 public:
  Profile(double capacity_rate_w_k, double resistance_k_w)
      : m_(capacity_rate_w_k), whole_(resistance_k_w), peclet_(m_ * whole_) {}

  // (e^(mξ) − 1)/(e^(mΞ) − 1), written so that nothing overflows.
  [[nodiscard]] double share_at(double xi) const {
    if (peclet_ < tiny) return xi / whole_;
    return std::exp(m_ * (xi - whole_)) * std::expm1(-m_ * xi) / std::expm1(-peclet_);
  }
  [[nodiscard]] double resistance_at(double share) const {
    if (peclet_ < tiny) return share * whole_;
    return whole_ + std::log(share + (1 - share) * std::exp(-peclet_)) / m_;
  }
  // d(share)/dξ at the cold and the hot end, W/K.
  [[nodiscard]] double slope_cold() const {
    return peclet_ < tiny ? 1 / whole_ : m_ * std::exp(-peclet_) / -std::expm1(-peclet_);
  }
  [[nodiscard]] double slope_hot() const {
    return peclet_ < tiny ? 1 / whole_ : m_ / -std::expm1(-peclet_);
  }

 private:
  static constexpr double tiny = 1e-9;
  double m_, whole_, peclet_;
};

struct Softening {
  std::optional<double> at_mm;
  double melt_mm3;
};

Softening soften(HeatBarrier const& barrier,
                 std::vector<double> const& resistances,
                 Profile const& profile) {
  double const span = barrier.hot_end_c - barrier.cold_end_c;
  double const share = (barrier.softens_c - barrier.cold_end_c) / span;
  if (share >= 1) return {{}, 0};
  double xi = share <= 0 ? 0 : profile.resistance_at(share), from_mm = 0;
  Softening result{{}, 0};
  for (std::size_t i = 0; i < barrier.steps.size(); ++i) {
    TubeStep const& step = barrier.steps[i];
    double const hard = std::clamp(xi / resistances[i], 0.0, 1.0);
    if (share > 0 && hard < 1 && !result.at_mm) result.at_mm = from_mm + hard * step.length_mm;
    result.melt_mm3 += (1 - hard) * step.length_mm * areas(step).plastic;
    xi -= resistances[i];
    from_mm += step.length_mm;
  }
  return result;
}

std::vector<BarrierPoint> temperatures(HeatBarrier const& barrier,
                                       std::vector<double> const& resistances,
                                       Profile const& profile) {
  double const span = barrier.hot_end_c - barrier.cold_end_c;
  std::vector<BarrierPoint> points{{0, barrier.cold_end_c}};
  double at_mm = 0, xi = 0;
  for (std::size_t i = 0; i < barrier.steps.size(); ++i) {
    for (int j = 1; j <= points_per_step; ++j) {
      double const part = static_cast<double>(j) / points_per_step;
      points.push_back({at_mm + part * barrier.steps[i].length_mm,
                        barrier.cold_end_c + span * profile.share_at(xi + part * resistances[i])});
    }
    at_mm += barrier.steps[i].length_mm;
    xi += resistances[i];
  }
  return points;
}

}  // namespace

TubeAreas areas(TubeStep const& step) {
  double const bore = circle_area(step.inner_mm), core = circle_area(step.screw_core_mm);
  return {circle_area(step.outer_mm) - bore, core, bore - core};
}

BarrierState barrier_state(HeatBarrier const& barrier, double flow_mm3_s) {
  check(barrier);
  std::vector<double> resistances;
  for (TubeStep const& step : barrier.steps)
    resistances.push_back(step.length_mm / conductance_w_mm_k(barrier, step));
  double const whole = std::accumulate(resistances.begin(), resistances.end(), 0.0);
  double const capacity_rate =
      std::max(0.0, flow_mm3_s) * barrier.density_g_cm3 * cm3_per_mm3 * barrier.heat_capacity_j_g_k;
  Profile const profile(capacity_rate, whole);
  double const span = barrier.hot_end_c - barrier.cold_end_c;
  double const leak = span * profile.slope_cold();
  TubeStep const& first = barrier.steps.front();
  TubeAreas const a = areas(first);
  double const per_area = leak * m_per_mm / conductance_w_mm_k(barrier, first);
  Softening const softening = soften(barrier, resistances, profile);
  return {.flow_mm3_s = flow_mm3_s,
          .leak_w = leak,
          .from_hot_end_w = span * profile.slope_hot(),
          .wall_w = per_area * first.conductivity_w_m_k * a.wall,
          .core_w = per_area * barrier.screw_conductivity_w_m_k * a.core,
          .plastic_w = per_area * barrier.plastic_conductivity_w_m_k * a.plastic,
          .temperatures = temperatures(barrier, resistances, profile),
          .softens_at_mm = softening.at_mm,
          .melt_mm3 = softening.melt_mm3};
}

std::optional<PlugRisk> plug_risk(HeatBarrier const& barrier, double flow_mm3_s) {
  if (!barrier.sticks_c || *barrier.sticks_c >= barrier.hot_end_c) return std::nullopt;
  HeatBarrier sticking = barrier;
  sticking.softens_c = *barrier.sticks_c;
  double length = 0;
  for (TubeStep const& step : barrier.steps) length += step.length_mm;
  PlugRisk out{.sticks_at_mm = barrier_state(sticking, flow_mm3_s).softens_at_mm.value_or(0)};
  // Soft throughout or hard throughout: softens_at_mm says neither.
  bool const soft_at_hopper = barrier.softens_c <= barrier.cold_end_c;
  double const melts =
      soft_at_hopper ? 0 : barrier_state(barrier, flow_mm3_s).softens_at_mm.value_or(length);
  out.sticky_mm = std::max(0.0, melts - out.sticks_at_mm);
  double at_mm = 0;
  for (TubeStep const& step : barrier.steps) {
    out.bore_mm = step.inner_mm;
    if ((at_mm += step.length_mm) > out.sticks_at_mm) break;
  }
  bool const at_hopper = *barrier.sticks_c <= barrier.cold_end_c;
  out.risk = at_hopper || out.sticky_mm > plug_bores * out.bore_mm;
  return out;
}

std::optional<double> risky_below_mm3_s(HeatBarrier const& barrier) {
  constexpr double fastest_mm3_s = 100;
  constexpr int halvings = 40;
  auto const risky = [&](double flow) {
    auto const risk = plug_risk(barrier, flow);
    return risk && risk->risk;
  };
  if (!risky(0)) return 0;
  if (risky(fastest_mm3_s)) return std::nullopt;
  double low = 0, high = fastest_mm3_s;
  for (int i = 0; i < halvings; ++i) (risky((low + high) / 2) ? low : high) = (low + high) / 2;
  return high;
}

BarrierSpread barrier_spread(HeatBarrier const& barrier,
                             Deviations const& deviations,
                             double flow_mm3_s) {
  std::vector<Doubtful<HeatBarrier>> doubtful;
  HeatBarrier copy = barrier;
  for (auto const& [key, sd] : deviations) {
    if (sd <= 0 || find_value(copy, key) == nullptr) continue;
    doubtful.push_back({.key = key, .sd = sd, .find = [name = key](HeatBarrier& b) {
                          return find_value(b, name);
                        }});
  }
  Propagated const spread = propagate(barrier, doubtful, [&](HeatBarrier const& b) {
    BarrierState const state = barrier_state(b, flow_mm3_s);
    return std::vector<double>{state.leak_w, state.softens_at_mm.value_or(0), state.melt_mm3};
  });
  BarrierSpread result{spread.values[0], spread.values[1], spread.values[2], {}};
  std::vector<std::size_t> order(doubtful.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  auto const part = [&](std::size_t i) { return std::abs(spread.by[i][2]); };
  std::ranges::stable_sort(order, std::greater<>{}, part);
  for (std::size_t const i : order)
    if (part(i) > 0) result.doubts.push_back(doubtful[i].key);
  return result;
}

}  // namespace meltlag::melt
