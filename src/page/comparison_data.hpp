// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

#include "meltlag/compare/comparison.hpp"
#include "meltlag/page/html.hpp"

namespace meltlag::page {

// "widths of beads"
[[nodiscard]] std::string_view plural_of(compare::MeasuredKind kind);
// The rows of each kind in the order of the print as columns, the curve of those by time, the worst
// stretches. page/measured.js reads them.
void write_comparison_data(Out const& out, compare::PrintComparison const& comparison);

}  // namespace meltlag::page
