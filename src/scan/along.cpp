// SPDX-License-Identifier: MIT
#include "along.hpp"

#include <algorithm>
#include <limits>

namespace meltlag::scan {

double median_of(std::vector<double>& values) {
  auto const middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

std::vector<double> running_median(std::vector<double> const& values,
                                   std::vector<bool> const& known,
                                   std::size_t reach,
                                   std::size_t fewest) {
  std::vector<double> out(values.size(), std::numeric_limits<double>::quiet_NaN()), near;
  for (std::size_t i = 0; i < values.size(); ++i) {
    near.clear();
    std::size_t const from = i > reach ? i - reach : 0;
    std::size_t const to = std::min(values.size(), i + reach + 1);
    for (std::size_t k = from; k < to; ++k)
      if (known[k]) near.push_back(values[k]);
    if (near.size() >= std::max<std::size_t>(1, fewest)) out[i] = median_of(near);
  }
  return out;
}

LocalLines running_lines(std::vector<double> const& values,
                         std::vector<bool> const& known,
                         std::size_t reach,
                         std::size_t fewest) {
  constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
  LocalLines out{std::vector<double>(values.size(), nan_value),
                 std::vector<double>(values.size(), nan_value)};
  std::vector<double> slopes, levels;
  std::size_t const apart = std::max<std::size_t>(1, reach / 2);
  for (std::size_t i = 0; i < values.size(); ++i) {
    std::size_t const from = i > reach ? i - reach : 0;
    std::size_t const to = std::min(values.size(), i + reach + 1);
    slopes.clear();
    levels.clear();
    for (std::size_t k = from; k + apart < to; ++k)
      if (known[k] && known[k + apart])
        slopes.push_back((values[k + apart] - values[k]) / static_cast<double>(apart));
    double const slope = slopes.size() < fewest ? 0 : median_of(slopes);
    for (std::size_t k = from; k < to; ++k)
      if (known[k])
        levels.push_back(values[k] - slope * (static_cast<double>(k) - static_cast<double>(i)));
    if (levels.size() < fewest) continue;
    out.level[i] = median_of(levels);
    out.slope[i] = slope;
  }
  return out;
}

}  // namespace meltlag::scan
