// SPDX-License-Identifier: MIT
// What a comparison knows beside the files.
#pragma once

#include <optional>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::compare {

// How well people measure. Common practice, no source.
struct Tools {
  double width_mm = 0.05;
  double place_mm = 1.0;
  double jaw_mm = 4.0;
  double mass_g = 0.02;
  double density_share = 0.02;  // batches differ by a percent or two
  double flow_share = 0.05, flow_mm3_s = 0.1;
  double force_share = 0.03, force_n = 2;
};

// Standard deviations of what the profile says; 0: not stated.
struct ProfileDeviations {
  double run_on_mm3 = 0, flow_index = 0;
  double run_on_flow_index_correlation = 0;
  double delivered_factor = 0, backlash_mm = 0, reverse_factor = 0, leak_per_s = 0;
};

struct CompareOptions {
  motion::WalkOptions program;
  melt::PlantParameters plant;
  ProfileDeviations sd = {};
  Tools tools = {};
  std::optional<double> layer_height_mm = {};   // else from Z
  std::optional<double> density_g_cm3 = {};     // needed for masses
  std::optional<double> thrust_n_per_mm3 = {};  // thrust over run-on; needed for forces
  std::optional<double> clock_offset_s = {};    // planned time − the sheet's; else found
};

}  // namespace meltlag::compare
