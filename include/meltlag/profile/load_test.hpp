// SPDX-License-Identifier: MIT
// Stiffness from a load test: weights hung on the screw, a dial gauge read at each.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace meltlag::profile {

inline constexpr double newtons_per_kg = 9.80665;  // standard gravity

struct LoadBranch {
  int readings = 0;
  double n_per_mm = 0;
  double n_per_mm_sd = 0;
  int freedom = 0;  // readings − 2; no deviation is known where it is 0
};

// What loading and unloading differ by: friction that winds up, or a bracket that creeps.
struct Hysteresis {
  double deflection_mm = 0;  // more at the same force on the way back
  double deflection_mm_sd = 0;
  double force_n = 0;                       // that width as a force, friction pulls by half of it
  std::optional<double> energy_share = {};  // of the work put in; where the force came back
};

// deflection_mm = offset_mm + force_n / n_per_mm, fitted by least squares with the readings at
// fault. Loading and unloading have one slope and offsets of their own.
struct LoadTest {
  double n_per_mm;
  double n_per_mm_sd;  // from the scatter about the lines; 0 with no readings to spare
  double offset_mm;    // the gauge's reading without load, while loading
  int readings;
  int freedom = 0;                                         // of n_per_mm_sd
  std::optional<LoadBranch> loading = {}, unloading = {};  // where two forces or more
  std::optional<Hysteresis> hysteresis = {};  // where unloading has two readings or more
};

// A table (base/sheet.hpp) with force_n or force_kg (1 kg = 9.80665 N) and deflection_mm. Throws
// Error with file:line:column at a value that is missing or no finite number, and where the
// readings give no stiffness: fewer than two different forces, or a deflection that does not grow
// with the force. A reading belongs to unloading where its force is below that of the reading
// before it, or equal to it and that one belongs to unloading.
[[nodiscard]] LoadTest read_load_test(std::string_view text, std::string const& name);

}  // namespace meltlag::profile
