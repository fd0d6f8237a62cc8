// SPDX-License-Identifier: MIT
// A machine in parts for tests: an auger of 12 mm on a printed bracket.
#pragma once

#include "meltlag/melt/parts.hpp"

namespace meltlag_test {

inline meltlag::melt::Machine bench_auger() {
  return {.barrel = {.sections = {{.length_mm = 18, .bore_mm = 12, .screw_core_mm = 9}},
                     .tip_gap_mm = 1.5,
                     .screw_diameter_mm = 11.8},
          .nozzle = {.diameter_mm = 1.0, .hole_length_mm = 1.5},
          .parts = {{.name = "printed bracket", .n_per_mm = 1500},
                    {.name = "head plate", .n_per_mm = 12000}},
          .material = {.density_g_cm3 = 1.24,
                       .bulk_modulus_mpa = 1000,
                       .consistency_pa_sn = 4260,
                       .flow_index = 0.69}};
}

}  // namespace meltlag_test
