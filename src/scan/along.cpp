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

}  // namespace meltlag::scan
