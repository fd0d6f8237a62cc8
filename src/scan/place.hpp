// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

namespace meltlag::scan {

// A place on the page (mm from its middle, x to the right, y down) or in a picture (pixels).
struct Place2 {
  double x = 0, y = 0;

  friend Place2 operator+(Place2 a, Place2 b) { return {a.x + b.x, a.y + b.y}; }
  friend Place2 operator-(Place2 a, Place2 b) { return {a.x - b.x, a.y - b.y}; }
  friend Place2 operator*(double s, Place2 a) { return {s * a.x, s * a.y}; }
};
[[nodiscard]] inline double dot(Place2 a, Place2 b) { return a.x * b.x + a.y * b.y; }
[[nodiscard]] inline double norm(Place2 a) { return std::hypot(a.x, a.y); }

}  // namespace meltlag::scan
