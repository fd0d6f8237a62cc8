// SPDX-License-Identifier: MIT
// The plants that stand for an uncertain lag law.
#include <algorithm>
#include <cmath>

#include "meltlag/schedule/robust.hpp"

namespace meltlag::schedule {
namespace {

constexpr std::array<double, direction_count> direction_widths{1, 0.5};

// `of_run_on` and `of_index` in deviations, uncorrelated.
Scenario scenario_at(LagSpread const& spread, double of_run_on, double of_index, double weight) {
  double const rest = std::sqrt(std::max(0.0, 1 - spread.correlation * spread.correlation));
  return {std::exp(spread.run_on_share_sd * of_run_on),
          spread.flow_index_sd * (spread.correlation * of_run_on + rest * of_index),
          weight};
}

}  // namespace

Scenarios scenarios_of(LagSpread const& spread) {
  // Middles of four equally likely bands, widened to a deviation of 1; each of them once for S and
  // once for n, uncorrelated.
  constexpr double outer = 1.36, inner = 0.38;
  constexpr std::array<double, scenario_count> of_run_on{-outer, -inner, inner, outer};
  constexpr std::array<double, scenario_count> of_index{-inner, outer, -outer, inner};
  Scenarios out;
  for (std::size_t i = 0; i < scenario_count; ++i)
    out[i] = scenario_at(spread, of_run_on[i], of_index[i], 1.0 / scenario_count);
  return out;
}

Plants plants_of(LagSpread const& spread) {
  Plants out;
  std::size_t at = 0;
  for (double const width_share : direction_widths) {
    LagSpread const narrowed{width_share * spread.run_on_share_sd,
                             width_share * spread.flow_index_sd,
                             spread.correlation};
    for (Scenario const& s : scenarios_of(narrowed)) out[at++] = s;
  }
  // The normal distribution's middles of 13 equally likely bands, again of deviation 1. The j-th
  // for S goes with the 5j-th for n, modulo 13: 5² = −1 there, which leaves them uncorrelated.
  constexpr std::array<double, 7> middle{0, 0.2038, 0.4156, 0.646, 0.9131, 1.2585, 1.8576};
  constexpr int count = static_cast<int>(judge_count), most = count / 2;
  auto const value = [&](int j) {
    return j < 0 ? -middle[static_cast<std::size_t>(-j)] : middle[static_cast<std::size_t>(j)];
  };
  for (int j = -most; j <= most; ++j) {
    int const partner = ((5 * j + most) % count + count) % count - most;
    out[at++] = scenario_at(spread, value(j), value(partner), 1.0 / count);
  }
  return out;
}

melt::LagLaw law_in(Scenario const& scenario, melt::LagLaw const& believed) {
  constexpr double least_index = 0.15, greatest_index = 1.5;
  melt::LagLaw law = believed;
  law.run_on_mm3 *= scenario.run_on_factor;
  if (scenario.flow_index_shift != 0) {
    law.flow_index =
        std::clamp(law.flow_index + scenario.flow_index_shift, least_index, greatest_index);
  }
  return law;
}

RunOns run_ons_at(Problem const& problem,
                  Plants const& plants,
                  RunOns const& start_run_on_mm3,
                  std::vector<double> const& rates,
                  std::size_t cut) {
  RunOns out{};
  Problem own = problem;
  Outcome outcome;
  for (std::size_t k = 0; k < plant_count; ++k) {
    own.start_run_on_mm3 = start_run_on_mm3[k];
    for (std::size_t l = 0; l < own.laws.size(); ++l)
      own.laws[l] = law_in(plants[k], problem.laws[l]);
    simulate(own, rates, outcome);
    out[k] = outcome.run_on_mm3[cut];
  }
  return out;
}

}  // namespace meltlag::schedule
