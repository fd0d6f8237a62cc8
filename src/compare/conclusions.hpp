// SPDX-License-Identifier: MIT
#pragma once

#include <span>

#include "meltlag/compare/comparison.hpp"

namespace meltlag::compare {

// Fills kinds, stages, worst and findings from the rows and the refit; `left`: how far each row is
// off after the refit.
void conclude(CompareOptions const& options, std::span<double const> left, Comparison& out);

}  // namespace meltlag::compare
