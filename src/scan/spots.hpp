// SPDX-License-Identifier: MIT
// Dark spots on light paper: candidates for the page's marks.
#pragma once

#include <vector>

#include "meltlag/scan/picture.hpp"
#include "place.hpp"

namespace meltlag::scan {

struct Spot {
  Place2 centre;         // of its darkness, pixels
  double across_px = 0;  // mean of its extents
  int holes = 0;         // light places within
};

// Roundish spots not smaller than `least_px` and not larger than `most_px` across.
[[nodiscard]] std::vector<Spot> find_spots(Picture const& picture, double least_px, double most_px);

}  // namespace meltlag::scan
