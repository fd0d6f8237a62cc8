// SPDX-License-Identifier: MIT
// Stiffness from a load test: weights hung on the screw, a dial gauge read at each.
#pragma once

#include <string>
#include <string_view>

namespace meltlag::profile {

// deflection_mm = offset_mm + force_n / n_per_mm, fitted by least squares with the readings at
// fault.
struct LoadTest {
  double n_per_mm;
  double n_per_mm_sd;  // from the scatter about the line; 0 with two readings
  double offset_mm;    // the gauge's reading without load
  int readings;
};

// A table (base/sheet.hpp) with force_n or force_kg (1 kg = 9.80665 N) and deflection_mm. Throws
// Error with file:line:column at a value that is missing or no finite number, and where the
// readings give no stiffness: fewer than two different forces, or a deflection that does not grow
// with the force.
[[nodiscard]] LoadTest read_load_test(std::string_view text, std::string const& name);

}  // namespace meltlag::profile
