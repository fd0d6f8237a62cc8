// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <limits>
#include <vector>

#include "response.hpp"

namespace meltlag::schedule {

// Per cut the greatest rate from which the cuts after it can still come down to theirs; `high(i)`
// is a free cut's own greatest.
template <class High>
std::vector<double> greatest_rates(Problem const& problem, Linearisation const& line, High high) {
  std::vector<double> most(problem.cuts.size());
  double after = std::numeric_limits<double>::infinity();
  for (std::size_t i = most.size(); i-- > 0;) {
    Cut const& cut = problem.cuts[i];
    after = most[i] = cut.fixed ? line.cuts[i].rate : std::min(high(i), after + cut.jump_to_next);
  }
  return most;
}

// How full the nozzle can be at the best, cut by cut: where even the fastest rise leaves it empty,
// as after an emptying that stays as written, the bound at 0 gives way.
class FastestRise {
 public:
  explicit FastestRise(Problem const& problem)
      : run_on_(problem.start_run_on_mm3),
        rate_(problem.rate_before.value_or(0)),
        jump_(problem.rate_before ? problem.jump_before : std::numeric_limits<double>::infinity()) {
  }

  // Run-on after the cut, at most 0; at rates up to `most`.
  double after(Cut const& cut, CutResponse const& response, double most) {
    rate_ = cut.fixed ? response.rate
                      : std::clamp(rate_ + jump_, cut.rate_low, std::max(most, cut.rate_low));
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
