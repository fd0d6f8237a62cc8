// SPDX-License-Identifier: MIT
// Cups of many equal bursts, for the melt that is ready for one (fit/store.hpp).
#pragma once

#include <optional>
#include <vector>

namespace meltlag::testpiece {

struct StoreCup {
  int number = 0;            // in the order filled, from 1
  int bursts = 0;            // cycles; a cup of none has as many without a burst
  double flow_mm3_s = 0;     // between bursts, commanded
  double burst_mm3_s = 0;    // commanded
  double burst_s = 0;        // at full rate; 0: no burst
  double rise_mm3_s2 = 0;    // of the commanded flow
  double commanded_mm3 = 0;  // all in all
};

// What is known of f and q beforehand, each with its standard deviation; none known: a tenth.
struct StoreKnowledge {
  double delivered_factor = 1;
  std::optional<double> delivered_factor_sd = {};
  double max_flow_mm3_s = 0;
  std::optional<double> max_flow_sd_mm3_s = {};
  std::optional<double> max_burst_mm3_s = {};  // delivered
};

inline constexpr int least_bursts = 100, most_bursts = 500;

// The cups to run, without numbers, for what is known: two without bursts and two for each length.
// Half the interval that is to be expected of them, 95 %, with a store of 1 mm³ and cups that
// scatter by 1 % beside the scale's steps.
struct StorePlan {
  std::vector<StoreCup> cups;
  double plus_minus_mm3 = 0;
  double settle_s = 0;  // the slow flow of each cycle
};
struct StorePlanOptions {
  StoreKnowledge known;
  double rise_mm3_s2;                     // E's acceleration times the filament's section
  std::optional<double> most_mm3_s = {};  // commanded: the bursts' flow is no more than this
  double density_g_cm3;
  double scale_g = 0.01;
  std::optional<int> bursts_per_cup = {};  // else as few as do, 100 to 500
};

// All that one burst commands, speeding up from the slow flow and down to it again included.
[[nodiscard]] double burst_volume_mm3(StoreCup const& cup);

}  // namespace meltlag::testpiece
