// SPDX-License-Identifier: MIT
// Running figures along the path.
#pragma once

#include <cstddef>
#include <functional>
#include <vector>

namespace meltlag::scan {

// The median of a range; what it is taken of is reordered. REQUIRES: not empty.
[[nodiscard]] double median_of(std::vector<double>& values);

// At every place the median of the `known` values within `reach` places; NaN where there are fewer
// than `fewest`.
[[nodiscard]] std::vector<double> running_median(std::vector<double> const& values,
                                                 std::vector<bool> const& known,
                                                 std::size_t reach,
                                                 std::size_t fewest);

}  // namespace meltlag::scan
