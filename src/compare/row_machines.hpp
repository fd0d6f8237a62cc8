// SPDX-License-Identifier: MIT
// The machines that one prediction takes: the profile's, one without lag, and one for each number
// whose influence is asked.
#pragma once

#include <vector>

#include "meltlag/compare/comparison.hpp"

namespace meltlag::compare {

inline constexpr std::size_t as_profiled = 0, without_lag = 1;

// A number of the plant, moved a little in machines[machine].
struct Influence {
  enum class What : std::uint8_t { run_on, factor, index, backlash, reverse, leak };
  What what;
  std::size_t machine;
  double step;   // by which it was moved, in its own unit
  double value;  // what it was
  double sd;     // as the profile states
};

struct Machines {
  std::vector<melt::PlantParameters> plants;
  std::vector<Influence> influences;  // run_on, factor and index always, the others where sd > 0
};

[[nodiscard]] Machines machines_of(melt::PlantParameters const& plant, ProfileDeviations const& sd);

}  // namespace meltlag::compare
