// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "meltlag/motion/planner.hpp"
#include "support/near.hpp"

using meltlag::motion::Trapezoid;

namespace {

// A trapezoid whose ends fit its length, at times without a cruise, at times a pure ramp.
Trapezoid random_trapezoid(std::mt19937_64& random) {
  std::uniform_real_distribution<double> unit(0, 1);
  Trapezoid t{.length_mm = std::pow(10, -3 + 5 * unit(random)),
              .acceleration_mm_s2 = std::pow(10, 1 + 3 * unit(random))};
  double const gain = 2 * t.acceleration_mm_s2 * t.length_mm;
  double const fastest2 = 4 * gain * unit(random);
  t.entry_mm_s = unit(random) < 0.3 ? 0 : std::sqrt(fastest2 * unit(random));
  double const entry2 = t.entry_mm_s * t.entry_mm_s;
  double const low2 = std::max(0.0, entry2 - gain), high2 = entry2 + gain;
  double const pick = unit(random);
  t.exit_mm_s = std::sqrt(pick < 0.2 ? low2 : pick < 0.4 ? high2 : low2 + (high2 - low2) * pick);
  double const triangle = std::sqrt((gain + entry2 + t.exit_mm_s * t.exit_mm_s) / 2);
  double const slowest = std::max(t.entry_mm_s, t.exit_mm_s);
  double const fastest = std::max(slowest, triangle);  // rounding may put a pure ramp's end above
  t.peak_mm_s =
      unit(random) < 0.5 ? fastest : slowest + (0.05 + unit(random)) / 1.05 * (fastest - slowest);
  return t;
}

}  // namespace

TEST_SUITE("motion") {
  // Scaling of a trapezoid over a unit distance: T = (a + v²)/(v·a), ramps v/a (Lynch and Park,
  // Modern Robotics, ch. 9; from memory).
  TEST_CASE("a trapezoid over a unit distance takes the textbook's time") {
    Trapezoid const t{.length_mm = 1, .peak_mm_s = 0.8, .acceleration_mm_s2 = 2};
    CHECK_CLOSE(t.duration_s(), 1.65, 1e-14);
    CHECK_CLOSE(t.rise_s(), 0.4, 1e-14);
    CHECK_CLOSE(t.fall_s(), 0.4, 1e-14);
    CHECK_NEAR(t.distance_at(0.4), 0.16, 1e-14);
    CHECK_NEAR(t.distance_at(0.4 + 0.5), 0.16 + 0.4, 1e-14);
    CHECK_NEAR(t.distance_at(1.25), 0.84, 1e-14);
    CHECK(t.speed_at_time(0.2) == 0.4);
  }

  TEST_CASE("distance and time of a trapezoid are inverse to each other") {
    std::mt19937_64 random(5);
    std::uniform_real_distribution<double> unit(0, 1);
    for (int i = 0; i < 20000; ++i) {
      Trapezoid const t = random_trapezoid(random);
      CAPTURE(t.length_mm);
      CAPTURE(t.entry_mm_s);
      CAPTURE(t.peak_mm_s);
      CAPTURE(t.exit_mm_s);
      CAPTURE(t.acceleration_mm_s2);
      double const s = t.length_mm * unit(random), time = t.time_at(s);
      REQUIRE(time >= 0);
      REQUIRE(time <= t.duration_s());
      REQUIRE(std::abs(t.distance_at(time) - s) <= 1e-11 * t.length_mm);
      REQUIRE(std::abs(t.speed_at_time(time) - t.speed_at_distance(s)) <= 2e-6 * t.peak_mm_s);
    }
  }

  TEST_CASE("distance is the integral of speed") {
    std::mt19937_64 random(6);
    for (int i = 0; i < 100; ++i) {
      Trapezoid const t = random_trapezoid(random);
      constexpr int steps = 10000;
      double const h = t.duration_s() / steps;
      double way = 0;
      for (int k = 0; k < steps; ++k) {
        way += h * t.speed_at_time((k + 0.5) * h);
        REQUIRE(std::abs(t.distance_at((k + 1) * h) - way) <= 5e-5 * t.length_mm);
      }
    }
  }

  TEST_CASE("times and places outside a move are those of its ends") {
    Trapezoid const t{
        .length_mm = 10, .entry_mm_s = 2, .peak_mm_s = 5, .exit_mm_s = 3, .acceleration_mm_s2 = 20};
    CHECK(t.distance_at(-1) == 0);
    CHECK(t.distance_at(100) == 10);
    CHECK(t.time_at(-1) == 0);
    CHECK_NEAR(t.time_at(11), t.duration_s(), 1e-15);
    CHECK(t.speed_at_distance(-1) == 2);
    CHECK(t.speed_at_distance(11) == 3);
    CHECK(t.speed_at_time(-1) == 2);
    CHECK(t.speed_at_time(100) == 3);
  }

  TEST_CASE("a move without length takes no time") {
    Trapezoid const still{};
    CHECK(still.duration_s() == 0);
    CHECK(still.distance_at(1) == 0);
    CHECK(still.time_at(1) == 0);
    Trapezoid const passing{
        .entry_mm_s = 5, .peak_mm_s = 5, .exit_mm_s = 5, .acceleration_mm_s2 = 100};
    CHECK(passing.duration_s() == 0);
  }
}
