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

#include "meltlag/base/error.hpp"

namespace meltlag::melt {

// sd 0: nothing that the value depends on has a known deviation.
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
// central differences; one-sided ones where a number would fall below 0, or where outputs() throws
// Error for the shifted model (a screw that just fits its bore).
template <class Model, class Outputs>
[[nodiscard]] Propagated propagate(Model const& model,
                                   std::vector<Doubtful<Model>> const& doubtful,
                                   Outputs const& outputs) {
  constexpr double step_share = 1e-4;
  std::vector<double> const centre = outputs(model);
  Propagated result;
  for (double const value : centre) result.values.push_back({.value = value});
  for (Doubtful<Model> const& doubt : doubtful) {
    Model copy = model;
    double const x = *doubt.find(copy);
    double const step = step_share * (x != 0 ? std::abs(x) : doubt.sd);
    double width = 0;  // between the two models compared
    auto const shifted = [&](double by) {
      Model other = model;
      *doubt.find(other) += by;
      if (doubt.also) *doubt.also(other) += by;
      if (x >= 0 && x + by < 0) return std::vector<double>(centre);
      try {
        std::vector<double> values = outputs(other);
        width += step;
        return values;
      } catch (Error const&) {
        return std::vector<double>(centre);
      }
    };
    std::vector<double> const high = shifted(step), low = shifted(-step);
    std::vector<double> part(centre.size(), 0.0);
    for (std::size_t j = 0; width > 0 && j < part.size(); ++j) {
      part[j] = (high[j] - low[j]) / width * doubt.sd;
      result.values[j].sd = std::hypot(result.values[j].sd, part[j]);
    }
    result.by.push_back(std::move(part));
  }
  return result;
}

}  // namespace meltlag::melt
