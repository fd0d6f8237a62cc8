// SPDX-License-Identifier: MIT
// The fit of thousands of widths off a picture (fit.hpp).
#pragma once

#include <vector>

#include "meltlag/calibrate/fit.hpp"

namespace meltlag::calibrate {

inline constexpr std::size_t fewest_dense = 200;

[[nodiscard]] bool is_dense(std::vector<Reading> const& readings);
[[nodiscard]] FitResult fit_dense(PrintedPath const& path,
                                  std::vector<Reading> const& readings,
                                  FitOptions const& options);

}  // namespace meltlag::calibrate
