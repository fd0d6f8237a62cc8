// SPDX-License-Identifier: MIT
// A bench auger on an old desktop printer, as the tests of the test piece want it.
#pragma once

#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::testpiece {

inline PieceOptions bench_options() {
  PieceOptions options{
      .slicer_diameter_mm = 1.75,
      .limits = {.acceleration_mm_s2 = 800,
                 .travel_acceleration_mm_s2 = 800,
                 .corner_jump_mm_s = {10, 10, 0.4, 5},
                 .max_speed_mm_s = {300, 300, 20, 60},
                 .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}},
  };
  options.nozzle_c = 205;
  options.bed_c = 60;
  return options;
}

}  // namespace meltlag::testpiece
