// SPDX-License-Identifier: MIT
// Where the numbers of a map's arrows stand so that none covers another.
#pragma once

#include <vector>

namespace meltlag::page {

struct Label {
  double wanted_mm;  // place that it points to
  double width_mm;   // that it takes, gap included
  double at_mm = 0;  // of its middle
};

// Fills in at_mm within low … high: each as near to its place as the order of the places and the
// neighbours' widths let it, the whole row pushed inside. Where they are too many for the room they
// overlap evenly. Keeps the order of `labels`.
void spread(std::vector<Label>& labels, double low_mm, double high_mm);

}  // namespace meltlag::page
