// SPDX-License-Identifier: MIT
// Where to begin: rates that would keep the run-on at what is wanted each moment.
#pragma once

#include <vector>

#include "meltlag/schedule/problem.hpp"

namespace meltlag::schedule {

// Moves `rates` (one per cut) part of the way to those that deliver what is wanted and what the
// run-on of a steady flow changes by, within each cut's bounds: winding back where the flow falls.
// The rounds end in another optimum from there, better or worse as the part may be. Leaves all as
// they are where nearly as much is wanted as the screw can feed for long, or more.
void guess_rates(Problem const& problem, std::vector<double>& rates);

}  // namespace meltlag::schedule
