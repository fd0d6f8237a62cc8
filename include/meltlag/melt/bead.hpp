// SPDX-License-Identifier: MIT
// A bead's cross-section: flat above and below, with half-round flanks,
//   A = w·h − (1 − π/4)·h²
// (geometry; used below w = h too, where no bead has that shape any more).
#pragma once

#include <numbers>

namespace meltlag::melt {

inline constexpr double bead_corner_share =
    1 - std::numbers::pi / 4;  // of h², missing at its sides

[[nodiscard]] constexpr double bead_section_mm2(double width_mm, double height_mm) {
  return width_mm * height_mm - bead_corner_share * height_mm * height_mm;
}

// 0 where nothing lies. REQUIRES: height_mm > 0.
[[nodiscard]] constexpr double bead_width_mm(double section_mm2, double height_mm) {
  return section_mm2 > 0 ? section_mm2 / height_mm + bead_corner_share * height_mm : 0;
}

}  // namespace meltlag::melt
