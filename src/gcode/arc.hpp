// SPDX-License-Identifier: MIT
// Geometry of G2 and G3.
//   (a, b)  the plane's axes, right-handed with the third: XY (G17), ZX (G18), YZ (G19)
// After Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3, NISTIR 6556,
// 2000, 3.5.3.
#pragma once

#include "meltlag/base/vec.hpp"
#include "meltlag/gcode/move.hpp"

namespace meltlag::gcode {

// Largest difference of the radii at start and end that is rounding, mm (the same report).
constexpr double arc_radius_tolerance_mm = 0.002;

enum class Turn : std::uint8_t { clockwise, counter_clockwise };

struct PlaneAxes {
  std::uint8_t a, b;
};

[[nodiscard]] double component(Vec3 const& v, int axis);
double& component(Vec3& v, int axis);

struct ArcResult {
  Arc arc;                   // radius_mm = 0: no arc is possible, the way is straight
  double radius_off_mm = 0;  // how much further from the centre the end is than the start
};

// Centre by its distance from the start along a and b. A full turn when the end is the start.
[[nodiscard]] ArcResult arc_by_centre(
    Vec3 start_mm, Vec3 end_mm, PlaneAxes axes, Turn turn, double centre_a_mm, double centre_b_mm);

// Centre by the radius: at most half a turn for radius_mm > 0, at least half a turn for < 0. When
// the radius is too small for the distance, the arc is the half circle over it.
[[nodiscard]] ArcResult arc_by_radius(
    Vec3 start_mm, Vec3 end_mm, PlaneAxes axes, Turn turn, double radius_mm);

// Length along the arc or straight line, along the helix.
[[nodiscard]] double path_length_mm(Vec3 start_mm, Vec3 end_mm, Arc const& arc);

}  // namespace meltlag::gcode
