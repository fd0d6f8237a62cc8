// SPDX-License-Identifier: MIT
// The machine that targets run on.
#pragma once

#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::fuzz {

inline motion::Limits machine_limits() {
  return {.acceleration_mm_s2 = 800,
          .travel_acceleration_mm_s2 = 800,
          .corner_jump_mm_s = {10, 10, 0.4, 5},
          .max_speed_mm_s = {300, 300, 20, 60},
          .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}};
}

inline melt::PlantParameters plant(double run_on_mm3, double flow_index) {
  return {.law = {.run_on_mm3 = run_on_mm3,
                  .at_flow_mm3_s = 5,
                  .flow_index = flow_index,
                  .at_c = {},
                  .activation_kj_mol = {}},
          .feed = {.slicer_diameter_mm = 1.75}};
}

}  // namespace meltlag::fuzz
