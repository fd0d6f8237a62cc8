// SPDX-License-Identifier: MIT
// Numbers as single strokes, for a bead on the bed and for the map.
#pragma once

#include <vector>

#include "meltlag/base/vec.hpp"

namespace meltlag::testpiece {

// One stroke without lifting the pen, z = 0.
using Stroke = std::vector<Vec3>;

struct DigitSize {
  double width_mm, height_mm;  // of the strokes' middle line
  double gap_mm;               // between two digits' middle lines
};

// `number` (≥ 0) as one stroke for each digit, from left to right; its left edge at x = 0, its
// middle at y = 0. A one is a bare vertical line and takes no width.
[[nodiscard]] std::vector<Stroke> strokes_of(int number, DigitSize const& size);

// From the left edge to the right one, mm.
[[nodiscard]] double width_of(int number, DigitSize const& size);

}  // namespace meltlag::testpiece
