// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "motion/support.hpp"
#include "support/near.hpp"

using namespace motion_test;
using meltlag::motion::corner_speed;
using meltlag::motion::CornerRule;
using meltlag::motion::PlanE;

namespace {

constexpr double degree = std::numbers::pi / 180;

// Two moves of 20 mm that turn by an angle.
struct Corner {
  Move before, after;
};
Corner turn(double angle_rad, double feed_mm_s = 100) {
  Vec3 const middle{20, 0, 0};
  Vec3 const end = middle + 20 * Vec3{std::cos(angle_rad), std::sin(angle_rad), 0};
  return {straight({}, middle, 0, feed_mm_s), straight(middle, end, 0, feed_mm_s)};
}

double speed(Corner const& corner, Limits const& limits, PlanE e = PlanE::included) {
  return corner_speed(corner.before, corner.after, limits, e);
}

Limits rounding(double deviation_mm, double acceleration_mm_s2) {
  Limits limits = bench_limits();
  limits.corner_rule = CornerRule::rounding;
  limits.corner_rounding_mm = deviation_mm;
  limits.acceleration_mm_s2 = limits.travel_acceleration_mm_s2 = acceleration_mm_s2;
  return limits;
}

}  // namespace

TEST_SUITE("motion") {
  TEST_CASE("a straight continuation keeps the slower move's speed under both rules") {
    for (Limits const& limits : {bench_limits(), rounding(0.05, 800)}) {
      Corner corner = turn(0);
      CHECK(speed(corner, limits) == 100);
      corner.after.feed_mm_s = 35;
      CHECK(speed(corner, limits) == 35);
    }
  }

  TEST_CASE("no axis jumps by more than its limit") {
    CHECK_CLOSE(speed(turn(90 * degree), bench_limits()), 10, 1e-14);
    CHECK_CLOSE(speed(turn(180 * degree), bench_limits()), 5, 1e-14);
    // 30°: Δu = (1 − cos 30°, sin 30°), y is the stricter.
    CHECK_CLOSE(speed(turn(30 * degree), bench_limits()), 20, 1e-13);
    Limits uneven = bench_limits();
    uneven.corner_jump_mm_s[0] = 1;
    CHECK_CLOSE(speed(turn(30 * degree), uneven), 1 / (1 - std::cos(30 * degree)), 1e-13);
  }

  TEST_CASE("a start and an end of E flow make a corner of a straight line") {
    Move const dry = straight({}, {20, 0, 0}, 0, 100);
    Move const wet = straight({20, 0, 0}, {40, 0, 0}, 2, 100);  // 0.1 mm of E per mm
    CHECK_CLOSE(corner_speed(dry, wet, bench_limits(), PlanE::included), 50, 1e-14);
    CHECK(corner_speed(dry, wet, bench_limits(), PlanE::ignored) == 100);
    CHECK_CLOSE(corner_speed(dry, wet, rounding(0.05, 800), PlanE::included), 50, 1e-14);
  }

  // Geometry of the tangent circle: r = δ·cos(θ/2)/(1 − cos(θ/2)), v = √(a·r); values derived.
  TEST_CASE("a rounded corner is taken at the speed of its tangent circle") {
    Limits limits = rounding(0.05, 1000);
    CHECK_CLOSE(speed(turn(90 * degree), limits), 10.9868, 1e-5);
    CHECK_CLOSE(speed(turn(45 * degree), limits), 24.6344, 1e-5);
    CHECK_CLOSE(std::pow(speed(turn(45 * degree), limits), 2) / 1000, 0.606854, 1e-5);
    CHECK_NEAR(speed(turn(180 * degree), limits), 0, 1e-3);
    CHECK(speed(turn(0.1 * degree), limits) == 100);
  }

  // OpenStax, College Physics 2e, example 6.2: 25 m/s on a radius of 500 m is 1.25 m/s².
  TEST_CASE("the tangent circle asks for the centripetal acceleration of the textbook car") {
    double const angle = 60 * degree, half = std::cos(angle / 2);
    Limits limits = rounding(500e3 * (1 - half) / half, 1250);
    limits.max_speed_mm_s = {1e6, 1e6, 1e6, 1e6};
    CHECK_CLOSE(speed(turn(angle, 1e6), limits), 25e3, 1e-12);
  }

  TEST_CASE("between the head's move and one of the screw alone each axis may jump, no more") {
    Move const line = straight({}, {20, 0, 0}, 0, 100), retract = screw_turn({20, 0, 0}, -2, 40);
    // x: 1·v ≤ 10, E: 1·v ≤ 5.
    CHECK_CLOSE(corner_speed(line, retract, bench_limits(), PlanE::included), 5, 1e-14);
    CHECK(corner_speed(line, retract, rounding(0.05, 800), PlanE::included) == 0);
    Move const more = screw_turn({20, 0, 0}, -1, 30);
    CHECK(corner_speed(retract, more, bench_limits(), PlanE::included) == 30);
    CHECK(corner_speed(retract, more, rounding(0.05, 800), PlanE::included) == 30);
    Move const back = screw_turn({20, 0, 0}, 1, 30);
    CHECK_CLOSE(corner_speed(retract, back, rounding(0.05, 800), PlanE::included), 2.5, 1e-14);
  }

  TEST_CASE("an arc joins a line along its tangent") {
    Move const line = straight({5, -20, 0}, {5, 0, 0}, 0, 40);
    Move round = arc({}, 5, 0, 90 * degree, 0);  // leaves (5, 0) upward, arrives leftward
    round.e_mm = 0;
    round.kind = MoveKind::travel;
    Move const left = straight({0, 5, 0}, {-20, 5, 0}, 0, 40),
               up = straight({0, 5, 0}, {0, 9, 0}, 0, 40);
    CHECK_CLOSE(corner_speed(line, round, bench_limits(), PlanE::included), 40, 1e-12);
    CHECK_CLOSE(corner_speed(round, left, bench_limits(), PlanE::included), 40, 1e-12);
    CHECK_CLOSE(corner_speed(round, up, bench_limits(), PlanE::included), 10, 1e-12);
  }

  TEST_CASE("a jump of zero stops at corners but not on straight lines") {
    Limits limits = bench_limits();
    limits.corner_jump_mm_s = {0, 0, 0, 0};
    CHECK(speed(turn(10 * degree), limits) == 0);
    CHECK(speed(turn(0), limits) == 100);
  }
}
