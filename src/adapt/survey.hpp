// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "meltlag/adapt/adapt.hpp"

namespace meltlag::adapt {

// What the file asks of the machine as sliced.
struct Demand {
  double peak_flow_mm3_s = 0;     // the greatest while printing, of what is wanted
  double largest_run_on_mm3 = 0;  // the greatest run-on, by the predictor
};

// Reads the whole file.
[[nodiscard]] Demand survey(std::string const& path, AdaptOptions const& options);

}  // namespace meltlag::adapt
