// SPDX-License-Identifier: MIT
#include "meltlag/melt/screw.hpp"

#include <doctest/doctest.h>

#include <numbers>

#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

constexpr double degree = std::numbers::pi / 180;

constexpr MeteringZone groover{.screw_diameter_mm = 75,
                               .channel_depth_mm = 6,
                               .flight_angle_rad = 20 * degree,
                               .length_mm = 1900,
                               .viscosity_pa_s = 100};

}  // namespace

TEST_SUITE("melt") {
  // Groover, Fundamentals of Modern Manufacturing, example 13.1 (from memory).
  TEST_CASE("a metering zone drags and leaks what the worked example says") {
    double const drag = drag_flow_mm3_s(groover, 1), back = 7 * back_flow_mm3_s_mpa(groover);
    CHECK_CLOSE(drag, 53525, 1e-3);
    CHECK_CLOSE(back, 18276, 1e-3);
    CHECK_CLOSE(drag - back, 35249, 1e-3);
  }

  // Groover, example 13.2 (from memory): the same screw with a die of 6.5 × 20 mm.
  TEST_CASE("screw and die meet at the worked example's operating point") {
    RoundDie const die{.diameter_mm = 6.5, .length_mm = 20, .viscosity_pa_s = 100};
    CHECK_CLOSE(dead_end_pressure_mpa(groover, 1), 20.50, 1e-3);
    CHECK_CLOSE(die_conductance_mm3_s_mpa(die), 21.9e3, 1e-3);
    OperatingPoint const point = operating_point(groover, die, 1);
    CHECK_CLOSE(point.pressure_mpa, 2.184, 1e-3);
    CHECK_CLOSE(point.flow_mm3_s, 47822, 1e-3);
  }

  // Inputs from a textbook problem of the same chapter, answers derived.
  TEST_CASE("a deeper screw with a finer die works at the derived pressure") {
    MeteringZone const zone{120, 6.5, 17 * degree, 2800, 200};
    RoundDie const die{3.5, 12.5, 200};
    CHECK_CLOSE(drag_flow_mm3_s(zone, 1), 1.29145e5, 1e-5);
    CHECK_CLOSE(dead_end_pressure_mpa(zone, 1), 98.0629, 1e-5);
    OperatingPoint const point = operating_point(zone, die, 1);
    CHECK_CLOSE(point.pressure_mpa, 46.2853, 1e-5);
    CHECK_CLOSE(point.flow_mm3_s, 6.81891e4, 1e-5);
  }

  TEST_CASE("what flows out at the operating point is drag less back flow") {
    RoundDie const die{.diameter_mm = 6.5, .length_mm = 20, .viscosity_pa_s = 100};
    OperatingPoint const point = operating_point(groover, die, 1.3);
    CHECK_CLOSE(point.flow_mm3_s,
                drag_flow_mm3_s(groover, 1.3) - point.pressure_mpa * back_flow_mm3_s_mpa(groover),
                1e-13);
    CHECK_CLOSE(leak_per_s(groover, 20), back_flow_mm3_s_mpa(groover) / 20, 1e-15);
  }
}
