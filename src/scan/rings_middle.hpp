// SPDX-License-Identifier: MIT
// Where many straight lines meet that ought to meet in one point.
#pragma once

#include <vector>

#include "place.hpp"

namespace meltlag::scan {

struct Ray {
  Place2 from, along;  // unit vector
  double weight = 1;
};

// The point of least squares of the distances, those beyond a few times the usual one hardly
// counted (Cauchy's weight 1/(1 + (d/s)²), s the median distance of the last round).
[[nodiscard]] Place2 meeting_point(std::vector<Ray> const& rays, Place2 start);

}  // namespace meltlag::scan
