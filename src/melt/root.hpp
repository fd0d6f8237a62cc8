// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>

namespace meltlag::melt {

struct Falling {
  double value, slope;
};

// Where a falling function with value(0) > 0 ≥ value(high) passes 0: Newton's method, kept inside
// the bracket by bisection. `at(t)` returns a Falling.
template <class Function>
double falling_root(Function&& at, double high, double tolerance) {
  double low = 0, t = high;
  constexpr int most_rounds = 100;
  for (int round = 0; round < most_rounds; ++round) {
    Falling const f = at(t);
    if (std::abs(f.value) <= tolerance) {
      return t;
    }
    (f.value > 0 ? low : high) = t;
    double const newton = t - f.value / f.slope;
    t = newton > low && newton < high ? newton : 0.5 * (low + high);
    if (high - low <= 1e-15 * high) {
      return t;
    }
  }
  return t;
}

}  // namespace meltlag::melt
