// SPDX-License-Identifier: MIT
// Two records of the same thing on two clocks: how far apart do they run?
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace meltlag::compare {

// The sheet's clock against the planned time.
struct Clock {
  double offset_s = 0, sd_s = 0;  // planned time = the sheet's + offset
  bool found = false;             // false: given
  double correlation = 0;         // of the two records there, where found
  // How far the second half's own offset lies after the first half's, and the time between them.
  double drift_s = 0, drift_over_s = 0, drift_sd_s = 0;
};

// Samples at equal steps, linear in between, the end values beyond.
struct Trace {
  double from_s = 0, step_s = 1;
  std::vector<double> values;
  [[nodiscard]] double at(double t_s) const;
  [[nodiscard]] double to_s() const;
};

inline constexpr std::size_t least_clock_rows = 8;

// The offset at which values ≈ a + b·trace(times + offset), b > 0, fits best: the highest
// correlation over all offsets at which the two meet. `times` ascending. Its ± is that of
// least squares with independent errors. `found` is false where there are fewer than
// least_clock_rows rows or nothing changes in either record.
[[nodiscard]] Clock find_clock(std::span<double const> times_s,
                               std::span<double const> values,
                               Trace const& trace);

}  // namespace meltlag::compare
