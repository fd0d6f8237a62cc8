// SPDX-License-Identifier: MIT
// Cups that do not fit in with the others.
#pragma once

#include <vector>

#include "meltlag/fit/feed_verdict.hpp"

namespace meltlag::fit {

struct CupShare {
  CupReading reading;
  double share = 0;  // delivered/commanded
};

// Takes out of `cups` those whose share is further than 5 robust deviations from the median of
// their flow, after a drift by the median of slopes (Theil–Sen) is taken off. The deviation is
// 1.4826 times the median distance, no less than what the scale's steps make. Nothing is taken out
// of fewer than 8 cups.
[[nodiscard]] std::vector<OddCup> take_out_odd_cups(std::vector<CupShare>& cups, double scale_g);

}  // namespace meltlag::fit
