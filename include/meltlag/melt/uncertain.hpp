// SPDX-License-Identifier: MIT
// Standard deviations through a model, to first order:
//   sd(y_j)² = Σ_i (∂y_j/∂x_i · sd(x_i))²,   the x_i taken as independent
// (ISO/IEC Guide 98-3, "Guide to the expression of uncertainty in measurement", 5.1.2). Results
// that share an x_i move together: a share of a sum has the deviation of the share itself, not that
// of two independent numbers.
#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <string>
#include <vector>

namespace meltlag::melt {

// sd 0: nothing that the value hangs on has a known deviation.
struct Uncertain {
  double value = 0, sd = 0;
};

// By the key's full name as in a profile: "nozzle.diameter_mm", "mechanics.parts[0].n_per_mm".
using Deviations = std::map<std::string, double, std::less<>>;

// One uncertain number of a model: where it is, in the number's own unit.
template <class Model>
struct Doubtful {
  std::string key;
  double sd;
  std::function<double*(Model&)> find;
  std::function<double*(Model&)> also = {};  // a second place of the same number
};

struct Propagated {
  std::vector<Uncertain> values;
  // by[i][j]: the part of values[j].sd that comes from number i, with the sign of ∂y_j/∂x_i
  std::vector<std::vector<double>> by;
};

// `outputs` turns a model into a list of numbers, always of the same length. Derivatives are
// central differences; forward ones where a number would fall below 0.
template <class Model, class Outputs>
[[nodiscard]] Propagated propagate(Model const& model,
                                   std::vector<Doubtful<Model>> const& doubtful,
                                   Outputs const& outputs) {
  constexpr double step_share = 1e-4;
  Propagated result;
  for (double const value : outputs(model)) result.values.push_back({.value = value});
  auto const shifted = [&](Doubtful<Model> const& doubt, double by) {
    Model copy = model;
    *doubt.find(copy) += by;
    if (doubt.also) *doubt.also(copy) += by;
    return outputs(copy);
  };
  for (Doubtful<Model> const& doubt : doubtful) {
    Model copy = model;
    double const x = *doubt.find(copy);
    double const step = step_share * (x != 0 ? std::abs(x) : doubt.sd);
    double const down = x >= 0 && x < step ? 0 : step;
    std::vector<double> part(result.values.size(), 0.0);
    if (step > 0) {
      std::vector<double> const high = shifted(doubt, step), low = shifted(doubt, -down);
      for (std::size_t j = 0; j < part.size(); ++j)
        part[j] = (high[j] - low[j]) / (step + down) * doubt.sd;
    }
    for (std::size_t j = 0; j < part.size(); ++j)
      result.values[j].sd = std::hypot(result.values[j].sd, part[j]);
    result.by.push_back(std::move(part));
  }
  return result;
}

}  // namespace meltlag::melt
