// SPDX-License-Identifier: MIT
// Chooses where the head runs slower, window by window, so that a second more buys at least the
// price in misplaced plastic.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "cutter.hpp"
#include "meltlag/schedule/pace.hpp"
#include "pace_plan.hpp"
#include "planned_move.hpp"

namespace meltlag::adapt {

struct PaceOptions {
  double price_mm3_per_s = 0;  // of a second, in misplaced plastic; 0: the head is not paced
  double min_speed_mm_s = 0;
};

struct WindowState;

// How closely a window is paced.
struct PacerCare {
  double measured_gap, tangent_gap;  // duality gaps, shares of what is wanted
  double gain_to_come;               // of what is wanted, that all rounds to come are not worth
};

class Pacer {
 public:
  Pacer(PaceOptions pace, CutterOptions cuts, melt::PlantParameters plant, double most_run_on_mm3);

  // Fills `paced` of the moves. `cutter` cuts them as they would be without pace.
  void pace(std::span<PlannedMove* const> moves, Cutter const& cutter, WindowState const& state);

 private:
  struct Trial {
    schedule::Problem problem;
    std::vector<double> rates;
    double time_s = 0, misplaced_mm3 = 0;
  };

  void begin(std::span<PlannedMove* const> moves, Cutter const& cutter);
  void measure(std::span<PlannedMove* const> moves,
               WindowState const& state,
               std::vector<double>& caps,
               Trial& trial);
  void set_duration_bounds(std::span<PlannedMove* const> moves, double trust);
  void set_trial_caps(std::span<PlannedMove* const> moves,
                      std::vector<motion::Trapezoid> const& now,
                      double share);
  bool improve(std::span<PlannedMove* const> moves, WindowState const& state, double trust);
  void finish(std::span<PlannedMove* const> moves, WindowState const& state);
  [[nodiscard]] double cost(Trial const& trial) const {
    return trial.misplaced_mm3 + options_.price_mm3_per_s * trial.time_s;
  }
  [[nodiscard]] double slowest(PlannedMove const& planned) const;

  PaceOptions options_;
  PacerCare care_;
  Cutter grid_;  // one cut a stretch
  melt::SupplyLimits supply_;
  std::optional<bool> near_supply_;  // this window; none: not known yet
  double most_run_on_mm3_;
  schedule::Optimiser optimiser_;
  schedule::PaceTangent tangent_;
  schedule::PaceStep step_;
  std::vector<schedule::DurationBounds> bounds_;  // per cut of the grid
  std::vector<CutRange> ranges_;
  std::vector<double> base_s_;  // duration without pace, per stretch
  std::vector<double> caps_, trial_caps_;
  std::vector<double> ends_;
  Trial best_, trial_;
};

}  // namespace meltlag::adapt
