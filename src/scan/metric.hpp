// SPDX-License-Identifier: MIT
// From millimetres of the page to pixels of a picture.
//
// Plane to plane (a projective map of 8 numbers), then what lens and scanner add, in units of the
// half diagonal: a radial term x·(1 + k r²) about the picture's middle, and along each axis of the
// picture a square and a cubic term, for a carriage that does not run evenly. The marks determine
// all of it; their scatter about it says how far the page was from flat.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "meltlag/scan/picture.hpp"
#include "place.hpp"

namespace meltlag::scan {

struct Metric {
  std::array<double, 9> plane{};  // row by row; the last is 1
  double radial = 0;
  std::array<double, 4> stretch{};  // x², x³, y², y³
  Place2 middle;                    // of the picture, pixels
  double half_diagonal_px = 1;
  double scale_x = 1, scale_y = 1;  // true mm per mm of the page as drawn

  // What was found.
  int marks = 0;
  double scatter_mm = 0;  // of the marks
  bool mirrored = false;  // the picture is
  double pixel_mm = 0;    // in the page's middle

  [[nodiscard]] Place2 pixel(Place2 page_mm) const;
};

struct PageScale {
  double bar_x_mm, bar_y_mm;  // what the bars measure
};

// Finds the marks. Throws Error where the page's four corner marks or too many of the others are
// missing, where there are two pages, and where the marks do not fit together.
[[nodiscard]] Metric find_metric(Reduced const& reduced,
                                 PageScale const& scale,
                                 std::string const& path);

}  // namespace meltlag::scan
