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

// Four plants suffice to tell which way to go, from narrow and from wide ones; which step is best
// takes more of them, or the schedule would suit those four alone.
inline constexpr std::size_t direction_count = 2;
inline constexpr std::size_t judge_count = 13;
inline constexpr std::size_t plant_count = direction_count * scenario_count + judge_count;
// The directions' scenarios first, then the judges, which have the same variances and covariance
// at full width.
using Plants = std::array<Scenario, plant_count>;
[[nodiscard]] Plants plants_of(LagSpread const& spread);

// Run-on in each of them.
using RunOns = std::array<double, plant_count>;

struct RobustInfo {
  double start_mm3 = 0, expected_mm3 = 0;       // mean over the judges, before and after
  double centre_start_mm3 = 0, centre_mm3 = 0;  // as believed
  int rounds = 0;
};

class RobustOptimiser {
 public:
  RobustOptimiser();
  ~RobustOptimiser();
  RobustOptimiser(RobustOptimiser&&) noexcept;

  // Improves `rates`, which keep the problem's limits and go on doing so. As believed they
  // misplace at most `centre_loss` more than before, as a share of that.
  RobustInfo improve(Problem const& problem,
                     Plants const& plants,
                     RunOns const& start_run_on_mm3,
                     double centre_loss,
                     std::vector<double>& rates);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// Run-on at the start of cut `cut` in each plant.
[[nodiscard]] RunOns run_ons_at(Problem const& problem,
                                Plants const& plants,
                                RunOns const& start_run_on_mm3,
                                std::vector<double> const& rates,
                                std::size_t cut);

}  // namespace meltlag::schedule
