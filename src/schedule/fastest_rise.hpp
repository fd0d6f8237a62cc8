// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <limits>

#include "response.hpp"

namespace meltlag::schedule {

// How full the nozzle can be at the best, cut by cut: where even the fastest rise leaves it empty,
// as after an emptying that stays as written, the bound at 0 gives way.
class FastestRise {
 public:
  explicit FastestRise(Problem const& problem)
      : run_on_(problem.start_run_on_mm3),
        rate_(problem.rate_before.value_or(0)),
        jump_(problem.rate_before ? problem.jump_before : std::numeric_limits<double>::infinity()) {
  }

  // Run-on after the cut, at most 0.
  double after(Cut const& cut, CutResponse const& response) {
    rate_ = cut.fixed ? response.rate : std::clamp(rate_ + jump_, cut.rate_low, cut.rate_high);
    run_on_ = response.run_on_out_mm3 + response.by_run_on * (run_on_ - response.run_on_in_mm3) +
              response.by_rate * (rate_ - response.rate);
    jump_ = cut.jump_to_next;
    double const least = std::min(run_on_, 0.0);
    if (run_on_ > 0 && rate_ >= 0) run_on_ = rate_ = 0;
    if (cut.run_out_after) run_on_ = std::min(run_on_, 0.0);
    return least;
  }

 private:
  double run_on_, rate_, jump_;
};

}  // namespace meltlag::schedule
