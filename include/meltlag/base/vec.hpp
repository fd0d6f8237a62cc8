// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <numbers>

namespace meltlag {

struct Vec3 {
  double x = 0, y = 0, z = 0;

  friend Vec3 operator+(Vec3 a, Vec3 b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
  friend Vec3 operator-(Vec3 a, Vec3 b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
  friend Vec3 operator*(double s, Vec3 a) { return {s * a.x, s * a.y, s * a.z}; }
  friend bool operator==(Vec3 const&, Vec3 const&) = default;
};

[[nodiscard]] inline double dot(Vec3 a, Vec3 b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
[[nodiscard]] inline double norm(Vec3 a) { return std::sqrt(dot(a, a)); }

// Area of a circle, mm² for mm.
[[nodiscard]] inline double circle_area(double diameter) {
  return std::numbers::pi * diameter * diameter / 4;
}

// Diameter of the ball that holds `volume`, mm for mm³.
[[nodiscard]] inline double ball_diameter(double volume) {
  return std::cbrt(6 * volume / std::numbers::pi);
}

}  // namespace meltlag
