// SPDX-License-Identifier: MIT
// Everything that single prints on two builds say about which is better.
#pragma once

#include <vector>

#include "meltlag/compare/verdict.hpp"

namespace meltlag::compare {

// One number a print, in the order of the prints; shorter where some were not measured.
struct BuildPrints {
  std::vector<double> run_on_mm3;  // all at one flow
  std::vector<double> lag_s;
  std::vector<double> blob_mm3, gap_mm;  // as sliced
};

struct BuildComparison {
  Comparison run_on_mm3, lag_s, blob_mm3, gap_mm;
};
[[nodiscard]] BuildComparison compare_prints(BuildPrints const& old_build,
                                             BuildPrints const& new_build);

}  // namespace meltlag::compare
