// SPDX-License-Identifier: MIT
// One screw schedule for a lag that is not known exactly: the least misplaced plastic on average
// over a few plants that stand for the uncertainty.
#pragma once

#include <array>
#include <memory>
#include <span>
#include <vector>

#include "meltlag/schedule/problem.hpp"

namespace meltlag::schedule {

// How uncertain the lag law is. Zeros: it is not.
struct LagSpread {
  double run_on_share_sd = 0;  // of S, as a share of it
  double flow_index_sd = 0;
  double correlation = 0;  // of ln S and n, −1 … 1

  [[nodiscard]] bool known() const { return run_on_share_sd > 0 || flow_index_sd > 0; }
};

// One plant that the schedule has to serve.
struct Scenario {
  double run_on_factor = 1;     // S is that much larger
  double flow_index_shift = 0;  // n is that much larger
  double weight = 1;
};

inline constexpr std::size_t scenario_count = 4;
using Scenarios = std::array<Scenario, scenario_count>;

// Four plants, equally likely, with the variances and the covariance of (ln S, n).
[[nodiscard]] Scenarios scenarios_of(LagSpread const& spread);
// The law that a scenario makes of the believed one.
[[nodiscard]] melt::LagLaw law_in(Scenario const& scenario, melt::LagLaw const& believed);

// Run-on in each scenario.
using RunOns = std::array<double, scenario_count>;

// What the believed plant may lose by it: the larger of the two.
struct CentreLoss {
  double of_centre = 0.1;  // share of what it misplaces
  double of_wanted = 0;    // share of what is wanted
};

struct RobustInfo {
  double start_mm3 = 0, expected_mm3 = 0;       // mean over the scenarios, before and after
  double centre_start_mm3 = 0, centre_mm3 = 0;  // as believed
  int rounds = 0;
};

class RobustOptimiser {
 public:
  RobustOptimiser();
  ~RobustOptimiser();
  RobustOptimiser(RobustOptimiser&&) noexcept;

  // Improves `rates`, which keep the problem's limits and go on doing so.
  RobustInfo improve(Problem const& problem,
                     Scenarios const& scenarios,
                     RunOns const& start_run_on_mm3,
                     CentreLoss const& loss,
                     std::vector<double>& rates);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// Run-on at the start of cut `cut` in each scenario.
[[nodiscard]] RunOns run_ons_at(Problem const& problem,
                                Scenarios const& scenarios,
                                RunOns const& start_run_on_mm3,
                                std::vector<double> const& rates,
                                std::size_t cut);

}  // namespace meltlag::schedule
