// SPDX-License-Identifier: MIT
// Which places on the test piece tell most about the lag law.
//
// Candidates are all millimetres of all walls. For a set of readings and a machine, the information
// matrix of (ln S, n, ln factor) is Σ J Jᵀ/σ², with the traces' heights eliminated and what is
// known beforehand added. The set chosen has the least
//   ln det cov(ln S, n) + 2·ln var(ln factor)
// as its mean over a grid of plausible machines: D-optimality for the lag law and for the factor,
// averaged over prior knowledge (after Atkinson, Donev and Tobias, Optimum Experimental Designs,
// with SAS, 2007; from memory). Found by adding the best reading until all are placed, then by
// exchanging single ones while that helps.
#pragma once

#include <vector>

#include "meltlag/reading/predictor.hpp"
#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::fit {

struct PlanOptions {
  melt::Feed feed;
  int readings = 20;
  reading::PredictorOptions predictor;
};

// What the planned widths alone tell of one machine: standard deviations.
struct ExpectedPrecision {
  double run_on_mm3 = 0, flow_mm3_s = 0, flow_index = 0;  // the machine
  double run_on_sd_mm3 = 0, flow_index_sd = 0;
  double lag_s = 0, lag_sd_s = 0;
  double factor_sd = 0;  // of the delivered factor, as a share
};

struct ReadingPlan {
  // The widths chosen, the most useful first; then what else helps: heights, places at a locked
  // width, tails, gaps, the mass where a density is known. Numbered in this order from 1.
  std::vector<reading::Reading> readings;
  int chosen = 0;                           // so many of them are the widths asked for
  std::vector<ExpectedPrecision> expected;  // for a stiff, a middling and a soft machine
};

[[nodiscard]] ReadingPlan plan_readings(testpiece::TestPiece const& piece,
                                        reading::PrintedPath const& path,
                                        PlanOptions const& options);

}  // namespace meltlag::fit
