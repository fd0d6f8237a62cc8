// SPDX-License-Identifier: MIT
// Ordinary least squares for a few columns, and the tests of significance that go with it.
#pragma once

#include <span>
#include <vector>

namespace meltlag::fit {

// y ≈ Σ coefficient[j]·column[j].
struct LinearFit {
  std::vector<double> coefficients = {};
  std::vector<double> standard_errors = {};
  double residual_squares = 0;  // Σ (y − fitted)²
  int freedom = 0;              // observations − columns
  [[nodiscard]] double residual_sd() const;
};

// By Householder's QR. REQUIRES: each column as long as `y`, more observations than columns,
// columns independent of each other.
[[nodiscard]] LinearFit fit_linear(std::span<double const> y,
                                   std::span<std::vector<double> const> columns);

// What chance gives as often as `p`, if the effect is none.
struct Significance {
  double statistic = 0;  // t or F; infinite where nothing is left to chance
  double p = 1;
};

// Whether a coefficient differs from zero: two-sided t.
[[nodiscard]] Significance test_coefficient(LinearFit const& fit, std::size_t index);
// Whether `full` says more than `part`, whose columns it contains: F.
[[nodiscard]] Significance test_nested(LinearFit const& part, LinearFit const& full);

// The t that 95 % of chances stay within, either side.
[[nodiscard]] double t_of_95_percent(int freedom);

// 95 % interval of a standard deviation that was found with so many degrees of freedom, as factors.
struct SdFactors {
  double low, high;
};
[[nodiscard]] SdFactors sd_factors_of_95_percent(int freedom);

}  // namespace meltlag::fit
