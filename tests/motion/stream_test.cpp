// SPDX-License-Identifier: MIT
// The streaming planner against the plain two passes over the whole list.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "motion/support.hpp"
#include "support/near.hpp"

using namespace motion_test;
using meltlag::motion::corner_speed;
using meltlag::motion::CornerRule;
using meltlag::motion::move_limits;
using meltlag::motion::MoveLimits;
using meltlag::motion::PlanE;
using meltlag::motion::Planner;
using meltlag::motion::Trapezoid;

namespace {

// Squares of the speeds at the start of each move and at the end, by two passes over the whole
// list.
std::vector<double> plan_whole(std::vector<Move> const& moves, Limits const& limits) {
  std::size_t const n = moves.size();
  std::vector<double> gain(n), speed2(n + 1, 0);
  for (std::size_t i = 0; i < n; ++i) {
    MoveLimits const own = move_limits(moves[i], limits, PlanE::included);
    gain[i] = 2 * own.acceleration_mm_s2 * own.length_mm;
    if (i > 0) {
      double const v = corner_speed(moves[i - 1], moves[i], limits, PlanE::included);
      speed2[i] = v * v;
    }
  }
  for (std::size_t i = n; i-- > 0;) {
    speed2[i] = std::min(speed2[i], speed2[i + 1] + gain[i]);
  }
  for (std::size_t i = 0; i < n; ++i) {
    speed2[i + 1] = std::min(speed2[i + 1], speed2[i] + gain[i]);
  }
  return speed2;
}

// A wandering path: curves of short moves, long lines, sharp corners, retracts, hops.
std::vector<Move> random_path(std::mt19937_64& random, std::size_t count) {
  std::uniform_real_distribution<double> unit(0, 1);
  std::vector<Move> moves;
  Vec3 at{};
  double angle = 0, bend = 0, scale = 1, feed = 60;
  while (moves.size() < count) {
    double const pick = unit(random);
    if (pick < 0.01) {
      scale = std::pow(10, -2 + 3 * unit(random));
      bend = 0.4 * (unit(random) - 0.5) * (unit(random) < 0.5 ? 0 : 1);
      feed = 10 + 150 * unit(random);
    }
    if (pick > 0.995) {
      moves.push_back(screw_turn(at, unit(random) - 0.5, 40));
      continue;
    }
    angle += pick > 0.98 ? 3 * unit(random) : bend;
    double const length = scale * (0.5 + unit(random));
    double const rise = pick > 0.97 && pick < 0.975 ? 0.2 : 0;
    Vec3 const to = at + Vec3{length * std::cos(angle), length * std::sin(angle), rise};
    moves.push_back(straight(at, to, pick > 0.9 ? 0 : 0.04 * length, feed));
    at = to;
  }
  return moves;
}

void check_invariants(std::vector<TimedMove> const& moves, Limits const& limits) {
  double time = 0, exit = 0;
  for (TimedMove const& timed : moves) {
    Trapezoid const& v = timed.speed;
    MoveLimits const own = move_limits(timed.move, limits, PlanE::included);
    double const gain = 2 * v.acceleration_mm_s2 * v.length_mm, slack = 1 + 1e-12;
    double const entry2 = v.entry_mm_s * v.entry_mm_s, exit2 = v.exit_mm_s * v.exit_mm_s;
    REQUIRE(v.entry_mm_s == exit);
    REQUIRE(entry2 <= slack * (exit2 + gain));
    REQUIRE(exit2 <= slack * (entry2 + gain));
    REQUIRE(v.peak_mm_s <= slack * own.speed_mm_s);
    REQUIRE(v.peak_mm_s >= std::max(v.entry_mm_s, v.exit_mm_s));
    REQUIRE(v.acceleration_mm_s2 == own.acceleration_mm_s2);
    REQUIRE(std::abs(timed.start_s - time) <= 1e-9 * (1 + time));
    double const way = (v.entry_mm_s + v.peak_mm_s) / 2 * v.rise_s() + v.peak_mm_s * v.cruise_s() +
                       (v.exit_mm_s + v.peak_mm_s) / 2 * v.fall_s();
    REQUIRE(std::abs(way - v.length_mm) <= 1e-11 * v.length_mm);
    time += v.duration_s();
    exit = v.exit_mm_s;
  }
  CHECK(exit == 0);
}

// Counts how many moves are on the way.
struct Lag : meltlag::motion::TimedSink {
  std::size_t sent = 0, most_pending = 0;
  double fastest_mm_s = 0, last_exit_mm_s = 0;
  bool smooth = true;
  void on_timed_move(TimedMove const& timed) override {
    ++sent;
    smooth = smooth && timed.speed.entry_mm_s == last_exit_mm_s;
    last_exit_mm_s = timed.speed.exit_mm_s;
    fastest_mm_s = std::max(fastest_mm_s, timed.speed.peak_mm_s);
  }
  void on_halt(Halt const&, double) override {}
};

Lag push_line(std::size_t count, double step_mm, Limits const& limits) {
  Lag lag;
  Planner planner({limits}, lag);
  for (std::size_t i = 0; i < count; ++i) {
    double const x = step_mm * static_cast<double>(i);
    planner.push(straight({x, 0, 0}, {x + step_mm, 0, 0}, 0, 60));
    lag.most_pending = std::max(lag.most_pending, i + 1 - lag.sent);
  }
  planner.finish();
  return lag;
}

}  // namespace

TEST_SUITE("motion") {
  TEST_CASE("streaming gives bit by bit the speeds of a plan of the whole list") {
    std::mt19937_64 random(31);
    for (CornerRule const rule : {CornerRule::jump, CornerRule::rounding}) {
      for (std::size_t const count : {1u, 2u, 17u, 511u, 512u, 513u, 5000u, 60000u}) {
        CAPTURE(count);
        Limits limits = bench_limits();
        limits.corner_rule = rule;
        std::vector<Move> const path = random_path(random, count);
        std::vector<double> const speed2 = plan_whole(path, limits);
        Caught caught;
        Planner planner({limits}, caught);
        for (Move const& move : path) {
          planner.push(move);
        }
        planner.finish();
        REQUIRE(caught.moves.size() == count);
        for (std::size_t i = 0; i < count; ++i) {
          REQUIRE(caught.moves[i].speed.entry_mm_s == std::sqrt(speed2[i]));
          REQUIRE(caught.moves[i].speed.exit_mm_s == std::sqrt(speed2[i + 1]));
        }
        check_invariants(caught.moves, limits);
      }
    }
  }

  TEST_CASE("no speed of the plan could be higher: each is held by a corner or by acceleration") {
    std::mt19937_64 random(32);
    std::vector<Move> const path = random_path(random, 20000);
    Limits const limits = bench_limits();
    Caught caught;
    Planner planner({limits}, caught);
    for (Move const& move : path) {
      planner.push(move);
    }
    planner.finish();
    auto const gain = [&](std::size_t i) {
      Trapezoid const& v = caught.moves[i].speed;
      return 2 * v.acceleration_mm_s2 * v.length_mm;
    };
    for (std::size_t i = 1; i < path.size(); ++i) {
      double const v2 = std::pow(caught.moves[i].speed.entry_mm_s, 2);
      double const before2 = std::pow(caught.moves[i - 1].speed.entry_mm_s, 2) + gain(i - 1);
      double const after2 = std::pow(caught.moves[i].speed.exit_mm_s, 2) + gain(i);
      double const corner = corner_speed(path[i - 1], path[i], limits, PlanE::included);
      double const bound2 = std::min({corner * corner, before2, after2});
      REQUIRE(std::abs(v2 - bound2) <= 1e-12 * bound2);
    }
  }

  TEST_CASE("a long smooth stretch flows through with only its stopping way pending") {
    Lag const lag = push_line(300000, 0.05, bench_limits());  // stopping way 45 moves
    CHECK(lag.sent == 300000);
    CHECK(lag.most_pending <= 1024);
    CHECK_CLOSE(lag.fastest_mm_s, 60, 1e-12);
    CHECK(lag.smooth);
  }

  TEST_CASE("a stopping way of ever so many moves stays in bounded memory and can still stop") {
    Limits limits = bench_limits();
    limits.travel_acceleration_mm_s2 = 0.5;  // 3600 mm of stopping way
    Lag const lag = push_line(200000, 0.02, limits);
    CHECK(lag.sent == 200000);
    CHECK(lag.most_pending <= 32768);
    CHECK(lag.fastest_mm_s > 10);
    CHECK(lag.smooth);
    CHECK(lag.last_exit_mm_s == 0);
  }
}
