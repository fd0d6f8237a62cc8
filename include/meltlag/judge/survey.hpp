// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::judge {

// What the file asks of the machine, its flow set right.
struct Demand {
  double peak_flow_mm3_s = 0;       // the greatest while printing
  double sustained_flow_mm3_s = 0;  // the greatest mean over one second of what the beads get
  double largest_run_on_mm3 = 0;    // the greatest run-on, by the predictor
};

struct SurveyOptions {
  melt::PlantParameters plant;
  motion::Limits limits;
  bool g91_covers_e = true;
};

// Reads the whole file. The demand of a file without beads is that of the lag law's own flow.
[[nodiscard]] Demand survey(std::string const& path, SurveyOptions const& options);

}  // namespace meltlag::judge
