// SPDX-License-Identifier: MIT
#include "meltlag/compare/clock.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "support/near.hpp"

namespace {

using namespace meltlag::compare;

// Flow of a print of 300 s: beads of changing length and flow.
Trace beads() {
  Trace trace{.from_s = -5, .step_s = 0.02, .values = {}};
  std::mt19937 random(7);
  std::uniform_real_distribution<double> length(1, 6), flow(1, 9);
  double wanted = 0, left = 5, now = 0;
  for (double t = trace.from_s; t < 300; t += trace.step_s) {
    left -= trace.step_s;
    if (left <= 0) {
      wanted = flow(random) < 3 ? 0 : flow(random);
      left = length(random);
    }
    now += trace.step_s / 0.4 * (wanted - now);
    trace.values.push_back(now);
  }
  return trace;
}

struct Record {
  std::vector<double> t, y;
};
// Read every `step_s` by a clock that is `offset_s` late, with noise.
Record record(Trace const& trace, double offset_s, double step_s, double noise) {
  Record out;
  std::mt19937 random(11);
  std::normal_distribution<double> scatter(0, noise);
  for (double t = 40; t < 200; t += step_s) {
    out.t.push_back(t - offset_s);
    out.y.push_back(trace.at(t) + (noise > 0 ? scatter(random) : 0));
  }
  return out;
}

}  // namespace

TEST_SUITE("compare") {
  TEST_CASE("the offset of two clocks is found, however far they are apart") {
    Trace const trace = beads();
    for (double const offset : {0.0, 3.37, -812.5, -1.7e9}) {
      CAPTURE(offset);
      Record const r = record(trace, offset, 0.5, 0.3);
      Clock const clock = find_clock(r.t, r.y, trace);
      REQUIRE(clock.found);
      CHECK_NEAR(clock.offset_s, offset, 0.06);
      CHECK(clock.sd_s > 0);
      CHECK(std::abs(clock.offset_s - offset) < 4 * clock.sd_s);
      CHECK(std::abs(clock.drift_s) < 0.2);
    }
  }

  TEST_CASE("a gain and a zero of the sensor do not move the clock") {
    Trace const trace = beads();
    Record r = record(trace, 12.4, 0.5, 0);
    for (double& y : r.y) y = 30 + 4 * y;
    CHECK_NEAR(find_clock(r.t, r.y, trace).offset_s, 12.4, 0.01);
  }

  TEST_CASE("clocks that run at other speeds are seen to part") {
    Trace const trace = beads();
    Record r = record(trace, 0, 0.25, 0.1);
    for (double& t : r.t) t *= 1.01;
    Clock const clock = find_clock(r.t, r.y, trace);
    REQUIRE(clock.drift_over_s > 0);
    CHECK_NEAR(clock.drift_s / clock.drift_over_s, -0.01, 0.002);
  }

  TEST_CASE("nothing is found where nothing changes or too few rows are there") {
    Trace const trace = beads();
    Record r = record(trace, 5, 0.5, 0);
    CHECK_FALSE(find_clock(std::span(r.t).first(4), std::span(r.y).first(4), trace).found);
    for (double& y : r.y) y = 2;
    CHECK_FALSE(find_clock(r.t, r.y, trace).found);
  }
}
