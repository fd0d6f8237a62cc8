// SPDX-License-Identifier: MIT
#pragma once

#include <span>

#include "meltlag/compare/comparison.hpp"
#include "row_spots.hpp"

namespace meltlag::compare {

// Fills kinds, stages, worst and findings from the rows and the refit; `left`: how far each row is
// off after the refit.
void conclude(CompareOptions const& options,
              Spots const& spots,
              std::span<double const> left,
              PrintComparison& out);

}  // namespace meltlag::compare
