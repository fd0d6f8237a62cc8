// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "row_machines.hpp"
#include "row_predictor.hpp"

namespace meltlag::compare {

// Fills out.refit: run-on and delivered factor that suit the rows best, by Gauss–Newton steps with
// a print predicted again for each. Where the clock was found by these rows, it may move too.
// Returns how far each row is off then.
[[nodiscard]] std::vector<double> refit(std::string const& printed,
                                        RowPredictor const& predictor,
                                        SimulatedPrint const& laid,
                                        Machines const& machines,
                                        CompareOptions const& options,
                                        PrintComparison& out);

}  // namespace meltlag::compare
