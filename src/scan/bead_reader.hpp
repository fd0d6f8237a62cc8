// SPDX-License-Identifier: MIT
// The bead at every point of the trail: found, followed, measured, doubted.
#pragma once

#include <vector>

#include "edges.hpp"
#include "meltlag/scan/widths.hpp"

namespace meltlag::scan {

struct ReadBead {
  std::vector<Width> widths;
  std::vector<double> left_mm, right_mm;  // edges across the trail, to the left; NaN: not found
  std::vector<double> coarse_mm;          // of what stands out by half, whatever its edges; 0: none
  double blur_mm = 0;
};

struct ReadOptions {
  double nozzle_mm = 0.9;
  double pixel_mm = 0.04;
  double contrast = 100;  // of the beads against the field, levels
};

[[nodiscard]] ReadBead read_bead(Profiles const& profiles,
                                 Trail const& trail,
                                 ReadOptions const& options);

}  // namespace meltlag::scan
