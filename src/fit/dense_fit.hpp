// SPDX-License-Identifier: MIT
// The fit of thousands of widths off a picture (fit.hpp).
#pragma once

#include <vector>

#include "meltlag/fit/fit.hpp"

namespace meltlag::fit {

inline constexpr std::size_t fewest_dense = 200;

[[nodiscard]] bool is_dense(std::vector<reading::Reading> const& readings);
[[nodiscard]] FitResult fit_dense(reading::PrintedPath const& path,
                                  std::vector<reading::Reading> const& readings,
                                  FitOptions const& options);

}  // namespace meltlag::fit
