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

// At every place the line that its neighbourhood follows, those of `known` within `reach` places:
// the slope is the median of differences over half of that, the level the median of what is left.
// Where values fall or rise fast, and more so where one side is not known, a median alone is not
// what they are. NaN as above.
struct LocalLines {
  std::vector<double> level, slope;  // at the place, per place
};
[[nodiscard]] LocalLines running_lines(std::vector<double> const& values,
                                       std::vector<bool> const& known,
                                       std::size_t reach,
                                       std::size_t fewest);

}  // namespace meltlag::scan
