// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <string>

#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::judge {

// What the file asks of the machine, its flow set right.
struct Demand {
  double peak_flow_mm3_s = 0;       // the greatest while printing
  double sustained_flow_mm3_s = 0;  // the greatest mean over one second of what the beads get
  double largest_run_on_mm3 = 0;    // the greatest run-on, by the predictor
  std::int64_t moves = 0;
};

struct SurveyOptions {
  melt::PlantParameters plant;
  motion::Limits limits;
  bool g91_covers_e = true;
};

// An E-only move back of more is no retract but an unload: thrice the greatest run-on, also at the
// flow that the screw feeds for long.
[[nodiscard]] double unload_mm3(Demand const& demand, melt::PlantParameters const& plant);

// Reads the whole file. The demand of a file without beads is that of the lag law's own flow.
[[nodiscard]] Demand survey(std::string const& path, SurveyOptions const& options);

}  // namespace meltlag::judge
