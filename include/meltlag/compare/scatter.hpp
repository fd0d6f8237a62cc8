// SPDX-License-Identifier: MIT
// How far numbers are off, and what may be concluded from so many of them.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace meltlag::compare {

// Of measured − predicted.
struct Offs {
  std::size_t count = 0;
  double bias = 0;     // mean
  double bias_se = 0;  // s/√n with s the scatter about the mean; 0 for fewer than two
  double rms = 0;      // about 0
};
[[nodiscard]] Offs offs_of(std::span<double const> offs);

// 1 − Σ off²/Σ off_without²: what a model explains of how far another is off; below 0 where it is
// worse. 0 where there is nothing to explain.
[[nodiscard]] double share_explained(std::span<double const> offs,
                                     std::span<double const> offs_without);

// A share of yes among so many, with its 95 % interval after Wilson:
//   (p + z²/2n ± z·√(p(1−p)/n + z²/4n²)) / (1 + z²/n)
// (R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in
// Medicine 17 (1998), method 3).
struct HitRate {
  std::size_t hits = 0, of = 0;
  double share = 0;
  double low = 0, high = 1;
};
[[nodiscard]] HitRate hit_rate(std::size_t hits, std::size_t of);  // REQUIRES: hits ≤ of

// Weighted least squares of off ≈ Σ_j b_j·slope_j without a constant.
struct Slopes {
  std::vector<double> b,
      sd;  // sd by the weights, widened where the scatter is larger than they say
  double chi2_before = 0, chi2_after = 0;  // Σ (off/sd)², without and with b
  bool determined = false;                 // the slopes can be separated
};
// `slopes[j]` has as many as `offs`; `sds` > 0.
[[nodiscard]] Slopes fit_slopes(std::span<double const> offs,
                                std::span<double const> sds,
                                std::vector<std::vector<double>> const& slopes);

}  // namespace meltlag::compare
