// SPDX-License-Identifier: MIT
#include "meltlag/motion/limits.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "meltlag/motion/planner.hpp"
#include "motion/support.hpp"
#include "support/near.hpp"

using namespace motion_test;
using meltlag::gcode::Setting;
using meltlag::gcode::SettingKind;
using meltlag::motion::apply;
using meltlag::motion::move_limits;
using meltlag::motion::MoveLimits;
using meltlag::motion::PlanE;

TEST_SUITE("motion") {
  TEST_CASE("M204 S sets both accelerations and T the travel's alone") {
    Limits limits = bench_limits();
    apply({.kind = SettingKind::acceleration, .all = 1200}, limits);
    CHECK(limits.acceleration_mm_s2 == 1200);
    CHECK(limits.travel_acceleration_mm_s2 == 1200);
    apply({.kind = SettingKind::acceleration, .all = 500, .travel = 2000}, limits);
    CHECK(limits.acceleration_mm_s2 == 500);
    CHECK(limits.travel_acceleration_mm_s2 == 2000);
  }

  TEST_CASE("M204 R sets the acceleration of E-only moves, and leaves the others") {
    Limits limits = bench_limits();
    apply({.kind = SettingKind::acceleration, .retract = 1200}, limits);
    CHECK(limits.retract_acceleration_mm_s2 == 1200);
    CHECK(limits.acceleration_mm_s2 == 800);
    CHECK(limits.travel_acceleration_mm_s2 == 800);
    apply({.kind = SettingKind::acceleration, .all = 500}, limits);
    CHECK(limits.retract_acceleration_mm_s2 == 1200);
    apply({.kind = SettingKind::acceleration, .retract = 0}, limits);
    CHECK(limits.retract_acceleration_mm_s2 == 1200);
  }

  TEST_CASE("E-only moves run at the lesser of E's own acceleration and that of retracts") {
    Limits limits = bench_limits();
    Move const retract = screw_turn({}, -1, 30), print = straight({}, {10, 0, 0}, 1, 60);
    auto const of = [&](Move const& move) {
      return move_limits(move, limits, PlanE::included).acceleration_mm_s2;
    };
    CHECK(of(retract) == 5000);  // nothing said: E's own
    limits.retract_acceleration_mm_s2 = 1200;
    CHECK(of(retract) == 1200);
    CHECK(of(print) == 800);
    limits.retract_acceleration_mm_s2 = 9000;
    CHECK(of(retract) == 5000);
  }

  TEST_CASE("the travel acceleration holds for G0 alone where the printer does so") {
    Limits limits = bench_limits();
    limits.travel_acceleration_mm_s2 = 1500;
    limits.travel_rule = meltlag::motion::TravelRule::rapid;
    auto const of = [&](Move const& move) {
      return move_limits(move, limits, PlanE::included).acceleration_mm_s2;
    };
    Move dry = straight({}, {10, 0, 0}, 0, 60), carrying = straight({}, {10, 0, 0}, 0.1, 60);
    CHECK(of(dry) == 800);  // G1 without E
    dry.rapid = carrying.rapid = true;
    CHECK(of(dry) == 1500);
    CHECK(of(carrying) == 1500);
    limits.travel_rule = meltlag::motion::TravelRule::without_e;
    CHECK(of(dry) == 1500);
    CHECK(of(carrying) == 800);
  }

  TEST_CASE("per-axis settings change the named axes only") {
    Limits limits = bench_limits();
    apply({.kind = SettingKind::max_speed, .x = 90, .e = 20}, limits);
    CHECK((limits.max_speed_mm_s == meltlag::motion::PerAxis{90, 200, 10, 20}));
    apply({.kind = SettingKind::max_acceleration, .y = 700}, limits);
    CHECK((limits.max_acceleration_mm_s2 == meltlag::motion::PerAxis{2000, 700, 100, 5000}));
    apply({.kind = SettingKind::corner_jump, .z = 1, .e = 0}, limits);
    CHECK((limits.corner_jump_mm_s == meltlag::motion::PerAxis{10, 10, 1, 0}));
  }

  TEST_CASE("settings that no printer could move with are passed over") {
    Limits limits = bench_limits();
    apply({.kind = SettingKind::max_speed, .x = 0, .y = -5}, limits);
    apply({.kind = SettingKind::max_acceleration, .e = 0}, limits);
    apply({.kind = SettingKind::acceleration, .all = 0, .travel = -1}, limits);
    apply({.kind = SettingKind::corner_jump, .x = -1}, limits);
    CHECK((limits == bench_limits()));
  }

  TEST_CASE("each axis bounds the path's speed and acceleration by its share of the way") {
    Limits limits = bench_limits();
    limits.max_speed_mm_s = {30, 200, 10, 50};
    limits.max_acceleration_mm_s2 = {300, 2000, 100, 5000};
    MoveLimits const found = move_limits(straight({}, {3, 4, 0}, 0, 100), limits, PlanE::included);
    CHECK_CLOSE(found.length_mm, 5, 1e-15);
    CHECK_CLOSE(found.speed_mm_s, 50, 1e-14);
    CHECK_CLOSE(found.acceleration_mm_s2, 500, 1e-14);
    MoveLimits const upward = move_limits(straight({}, {0, 0, 2}, 0, 100), limits, PlanE::included);
    CHECK(upward.speed_mm_s == 10);
    CHECK(upward.acceleration_mm_s2 == 100);
  }

  TEST_CASE("E bounds a printing move unless it is ignored") {
    Limits limits = bench_limits();
    limits.max_speed_mm_s[3] = 3;
    limits.max_acceleration_mm_s2[3] = 40;
    Move const move = straight({}, {10, 0, 0}, 1, 60);
    CHECK_CLOSE(move_limits(move, limits, PlanE::included).speed_mm_s, 30, 1e-14);
    CHECK_CLOSE(move_limits(move, limits, PlanE::included).acceleration_mm_s2, 400, 1e-14);
    CHECK(move_limits(move, limits, PlanE::ignored).speed_mm_s == 60);
    CHECK(move_limits(move, limits, PlanE::ignored).acceleration_mm_s2 == 800);
  }

  TEST_CASE("travel moves use the travel acceleration, whether or not E is looked at") {
    Limits limits = bench_limits();
    limits.travel_acceleration_mm_s2 = 1500;
    Move const travel = straight({}, {10, 0, 0}, 0, 60), wipe = straight({}, {10, 0, 0}, -0.1, 60);
    for (PlanE const e : {PlanE::included, PlanE::ignored}) {
      CHECK(move_limits(travel, limits, e).acceleration_mm_s2 == 1500);
      CHECK(move_limits(wipe, limits, e).acceleration_mm_s2 == 800);
    }
  }

  TEST_CASE("a move of E alone has the length, speed and acceleration of E") {
    MoveLimits const found = move_limits(screw_turn({}, -2.5, 70), bench_limits(), PlanE::included);
    CHECK(found.length_mm == 2.5);
    CHECK(found.speed_mm_s == 50);
    CHECK(found.acceleration_mm_s2 == 5000);
  }

  TEST_CASE("on an arc either axis of its plane may have to take the whole speed") {
    Limits limits = bench_limits();
    limits.max_speed_mm_s = {200, 25, 10, 50};
    MoveLimits const flat =
        move_limits(arc({}, 5, 0, std::numbers::pi, 0), limits, PlanE::included);
    CHECK_CLOSE(flat.speed_mm_s, 25, 1e-14);
    Move const helix = arc({}, 3 / std::numbers::pi, 0, std::numbers::pi, 4);  // 3-4-5 helix
    CHECK_CLOSE(move_limits(helix, limits, PlanE::included).speed_mm_s, 10 / 0.8, 1e-14);
    limits.max_speed_mm_s[1] = 6;
    CHECK_CLOSE(move_limits(helix, limits, PlanE::included).speed_mm_s, 10, 1e-14);
  }

  TEST_CASE("a feed of zero still moves") {
    MoveLimits const found =
        move_limits(straight({}, {1, 0, 0}, 0, 0), bench_limits(), PlanE::included);
    CHECK(found.speed_mm_s > 0);
  }
}
