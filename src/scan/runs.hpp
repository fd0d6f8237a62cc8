// SPDX-License-Identifier: MIT
// Tails, gaps and blobs from widths along the path.
#pragma once

#include <vector>

#include "meltlag/scan/widths.hpp"
#include "trail.hpp"

namespace meltlag::scan {

[[nodiscard]] std::vector<Run> find_runs(Trail const& trail, std::vector<Width> const& widths);
[[nodiscard]] std::vector<Blob> find_blobs(Trail const& trail, std::vector<Width> const& widths);

}  // namespace meltlag::scan
