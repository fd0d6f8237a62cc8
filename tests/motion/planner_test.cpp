// SPDX-License-Identifier: MIT
#include "meltlag/motion/planner.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "motion/support.hpp"
#include "support/near.hpp"

using namespace motion_test;
using meltlag::gcode::Setting;
using meltlag::gcode::SettingKind;
using meltlag::motion::PlanE;
using meltlag::motion::Planner;

namespace {

constexpr double km_h = 1e6 / 3600;  // mm/s

}  // namespace

TEST_SUITE("motion") {
  // B. L. Theraja, A Textbook of Electrical Technology vol. III, ch. 43 "Electric Traction": trains
  // that accelerate at α, run at their top speed and brake at β (km/h per second).
  TEST_CASE("trapezoidal runs of trains take the textbook's times") {
    struct Row {
      char const* name;
      double way_km, alpha, beta, top_km_h, run_s;
    };
    Row const rows[] = {
        {"43.1: 36 km/h on average, top 39.2", 2, 1.8, 3.6, 39.2016, 200},
        {"43.2: 36 km/h with a stop of 25 s, α 1.7", 1.5, 1.6875, 3.0, 54, 125},
        {"43.3: 38.7 km/h with a stop of 21 s", 1.5, 1.8, 3.6, 56.921, 1.5 / 38.686 * 3600 - 21},
        {"43.17: 60 km/h with a stop of 75 s, top 72.85", 9, 3, 4.5, 72.8475, 540 - 75},
    };
    for (Row const& row : rows) {
      CAPTURE(row.name);
      Limits limits = bench_limits();
      limits.max_speed_mm_s = limits.max_acceleration_mm_s2 = {1e9, 1e9, 1e9, 1e9};
      double const top = row.top_km_h * km_h, way = row.way_km * 1e6;
      double const brake_at = way - top * top / (2 * row.beta * km_h);
      Caught caught;
      Planner planner({limits}, caught);
      planner.push(Setting{.kind = SettingKind::acceleration, .all = row.alpha * km_h});
      planner.push(straight({}, {brake_at, 0, 0}, 0, top));
      planner.push(Setting{.kind = SettingKind::acceleration, .all = row.beta * km_h});
      planner.push(straight({brake_at, 0, 0}, {way, 0, 0}, 0, top));
      planner.finish();
      CHECK_CLOSE(planner.time_s(), row.run_s, 1e-5);
      CHECK_CLOSE(caught.moves.at(0).speed.exit_mm_s, top, 1e-9);
    }
  }

  TEST_CASE("a move too short for its feed makes a triangle") {
    Caught caught;
    Planner planner({bench_limits()}, caught);
    planner.push(straight({}, {2, 0, 0}, 0, 100));
    planner.finish();
    CHECK_CLOSE(caught.moves.at(0).speed.peak_mm_s, std::sqrt(800 * 2), 1e-14);
    CHECK_CLOSE(planner.time_s(), 2 * std::sqrt(2.0 / 800), 1e-13);
    CHECK(caught.moves.at(0).speed.cruise_s() == 0);
  }

  TEST_CASE("the head rests at halts, dwells take their time and waits take none") {
    Caught caught;
    Planner planner({bench_limits()}, caught);
    Move const a = straight({}, {20, 0, 0}, 0, 40), b = straight({20, 0, 0}, {40, 0, 0}, 0, 40);
    double const one = 20.0 / 40 + 40.0 / 800;
    planner.push(a);
    planner.push(Halt{.line = 2, .kind = HaltKind::dwell, .dwell_s = 1.5});
    planner.push(b);
    planner.push(Halt{.line = 4, .kind = HaltKind::wait, .dwell_s = 99});
    planner.push(Halt{.line = 5, .kind = HaltKind::stop});
    planner.push(a);
    planner.finish();
    REQUIRE(caught.moves.size() == 3);
    for (TimedMove const& timed : caught.moves) {
      CHECK(timed.speed.entry_mm_s == 0);
      CHECK(timed.speed.exit_mm_s == 0);
      CHECK_CLOSE(timed.speed.duration_s(), one, 1e-14);
    }
    CHECK(caught.moves[0].start_s == 0);
    CHECK_CLOSE(caught.moves[1].start_s, one + 1.5, 1e-14);
    CHECK_CLOSE(caught.moves[2].start_s, 2 * one + 1.5, 1e-14);
    CHECK_CLOSE(planner.time_s(), 3 * one + 1.5, 1e-14);
    CHECK((caught.moves_before_halt == std::vector<std::size_t>{1, 2, 2}));
    CHECK_CLOSE(caught.halts_at_s.at(0), one, 1e-14);
    CHECK_CLOSE(caught.halts_at_s.at(1), 2 * one + 1.5, 1e-14);
  }

  TEST_CASE("settings apply to later moves only") {
    Caught caught;
    Planner planner({bench_limits()}, caught);
    planner.push(straight({}, {20, 0, 0}, 0, 40));
    planner.push(Setting{.kind = SettingKind::acceleration, .all = 200});
    planner.push(straight({20, 0, 0}, {40, 0, 0}, 0, 40));
    planner.finish();
    CHECK(caught.moves.at(0).speed.acceleration_mm_s2 == 800);
    CHECK(caught.moves.at(1).speed.acceleration_mm_s2 == 200);
    CHECK(planner.limits().acceleration_mm_s2 == 200);
  }

  TEST_CASE("where stops halt, the printer rests before and after an E-only move, and only there") {
    for (bool const halt : {false, true}) {
      CAPTURE(halt);
      Limits limits = bench_limits();
      limits.stops_halt = halt;
      Caught caught;
      Planner planner({limits}, caught);
      planner.push(straight({}, {20, 0, 0}, 0.8, 40));
      planner.push(straight({20, 0, 0}, {40, 0, 0}, 0.8, 40));
      planner.push(screw_turn({40, 0, 0}, -1, 30));
      planner.push(straight({40, 0, 0}, {60, 0, 0}, 0, 40));
      planner.finish();
      REQUIRE(caught.moves.size() == 4);
      CHECK(caught.moves[0].speed.exit_mm_s == 40);
      CHECK((caught.moves[1].speed.exit_mm_s == 0) == halt);
      CHECK((caught.moves[2].speed.entry_mm_s == 0) == halt);
      CHECK((caught.moves[2].speed.exit_mm_s == 0) == halt);
      CHECK((caught.moves[3].speed.entry_mm_s == 0) == halt);
      // By hand: 20 mm from rest at 40 mm/s, 800 mm/s²; a stroke of 1 mm at 30 mm/s, 5000 mm/s².
      if (halt)
        CHECK_CLOSE(
            planner.time_s(), 3 * 20.0 / 40 + 2 * 40.0 / 800 + 1.0 / 30 + 30.0 / 5000, 1e-12);
    }
  }

  TEST_CASE("a retract takes the time that M204 R gives it, from its line on") {
    Caught caught;
    Planner planner({bench_limits()}, caught);
    planner.push(screw_turn({}, -1, 30));
    planner.push(Halt{.line = 2, .kind = HaltKind::stop});
    planner.push(Setting{.kind = SettingKind::acceleration, .retract = 1000});
    planner.push(screw_turn({}, 1, 30));
    planner.finish();
    REQUIRE(caught.moves.size() == 2);
    CHECK_CLOSE(caught.moves[0].speed.duration_s(), 1.0 / 30 + 30.0 / 5000, 1e-13);
    CHECK_CLOSE(caught.moves[1].speed.duration_s(), 1.0 / 30 + 30.0 / 1000, 1e-13);
  }

  TEST_CASE("without E a retract vanishes and the head passes where it stood") {
    for (PlanE const e : {PlanE::included, PlanE::ignored}) {
      Caught caught;
      Planner planner({bench_limits(), e}, caught);
      planner.push(straight({}, {20, 0, 0}, 0.8, 40));
      planner.push(screw_turn({20, 0, 0}, -1, 30));
      planner.push(straight({20, 0, 0}, {40, 0, 0}, 0, 40));
      planner.finish();
      if (e == PlanE::included) {
        REQUIRE(caught.moves.size() == 3);
        CHECK(caught.moves[0].speed.exit_mm_s <= 5);
        CHECK(caught.moves[1].speed.length_mm == 1);
        CHECK(caught.moves[1].speed.acceleration_mm_s2 == 5000);
      } else {
        REQUIRE(caught.moves.size() == 2);
        CHECK(caught.moves[0].speed.exit_mm_s == 40);
      }
    }
  }

  TEST_CASE("a move is passed on with everything it came with") {
    Caught caught;
    Planner planner({bench_limits()}, caught);
    Move move = straight({1, 2, 3}, {4, 6, 3}, 0.5, 40);
    move.line = 1234567;
    move.volume_mm3 = 1.2;
    move.write.e_words_per_mm = 0.5;
    planner.push(move);
    planner.finish();
    TimedMove const& timed = caught.moves.at(0);
    CHECK(timed.move.line == 1234567);
    CHECK(timed.move.volume_mm3 == 1.2);
    CHECK(timed.move.write.e_words_per_mm == 0.5);
    CHECK((timed.move.end_mm == Vec3{4, 6, 3}));
    CHECK(timed.speed.length_mm == 5);
  }

  TEST_CASE("moves without length or feed bring no number out of bounds") {
    Caught caught;
    Planner planner({bench_limits()}, caught);
    Move still = straight({5, 0, 0}, {5, 0, 0}, 0, 40);
    planner.push(straight({}, {5, 0, 0}, 0, 40));
    planner.push(still);
    planner.push(screw_turn({5, 0, 0}, 0, 40));
    planner.push(straight({5, 0, 0}, {10, 0, 0}, 0, 0));
    planner.finish();
    REQUIRE(caught.moves.size() == 4);
    for (TimedMove const& timed : caught.moves) {
      CHECK(std::isfinite(timed.speed.duration_s()));
      CHECK(std::isfinite(timed.speed.peak_mm_s));
    }
    CHECK(caught.moves[1].speed.duration_s() == 0);
    CHECK(std::isfinite(planner.time_s()));
  }

  TEST_CASE("finishing without a move, and twice, does nothing") {
    Caught caught;
    Planner planner({bench_limits()}, caught);
    planner.finish();
    planner.push(straight({}, {5, 0, 0}, 0, 40));
    planner.finish();
    planner.finish();
    CHECK(caught.moves.size() == 1);
  }
}
