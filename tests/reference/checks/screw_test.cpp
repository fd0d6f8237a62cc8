// SPDX-License-Identifier: MIT
// What the screw can do, against cases worked out by hand ("derived").
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "reference.hpp"
#include "support/near.hpp"

using namespace meltlag_reference;

namespace {

// 1 mm of E is 1 mm3, so that speeds of E read as flows.
Plant plain(double q, double b = 0) {
  Plant plant;
  plant.slicer_diameter_mm = std::sqrt(4 / std::numbers::pi);
  plant.max_flow_mm3_s = q;
  plant.burst_mm3 = b;
  return plant;
}

double volume(const std::vector<Feed>& feeds) {
  double sum = 0;
  for (const Feed& f : feeds) sum += f.mm3_s * f.seconds + f.mm3_s2 * f.seconds * f.seconds / 2;
  return sum;
}

double duration(const std::vector<Feed>& feeds) {
  double sum = 0;
  for (const Feed& f : feeds) sum += f.seconds;
  return sum;
}

}  // namespace

TEST_SUITE("reference") {
  TEST_CASE("a store runs empty after b/(x - q) seconds, then the screw feeds q") {
    Screw screw(plain(5, 1.5));
    const auto feeds = screw.turn(8, 0, 2, 1);
    REQUIRE(feeds.size() == 2);
    CHECK_NEAR(feeds[0].seconds, 1.5 / (8 - 5), 1e-12);
    CHECK_NEAR(feeds[0].mm3_s, 8.0, 1e-12);
    CHECK_NEAR(feeds[1].seconds, 2 - 1.5 / (8 - 5), 1e-12);
    CHECK_NEAR(feeds[1].mm3_s, 5.0, 1e-12);
    CHECK_NEAR(screw.starved_mm3(), (8 - 5) * 1.5, 1e-12);
    CHECK(screw.store_mm3() == 0);
  }

  TEST_CASE("a store fills again at q less what is used, and no further than b") {
    Screw screw(plain(5, 1.5));
    screw.turn(8, 0, 2, 1);
    screw.turn(4.5, 0, 0.6, 1);
    CHECK_NEAR(screw.store_mm3(), (5 - 4.5) * 0.6, 1e-12);
    screw.turn(0, 0, 0.1, 0);
    CHECK_NEAR(screw.store_mm3(), 0.3 + 0.5, 1e-12);
    screw.turn(1, 0, 0.1, -1);  // it turns back: the melt still gets ready
    CHECK_NEAR(screw.store_mm3(), 0.3 + 0.5 + 0.5, 1e-12);
    screw.turn(0, 0, 10, 0);
    CHECK_NEAR(screw.store_mm3(), 1.5, 1e-12);
    CHECK_NEAR(screw.starved_mm3(), 4.5, 1e-12);
  }

  TEST_CASE("what was wound back is given again at any flow, what goes beyond is not") {
    Screw screw(plain(5));
    screw.turn(25, 0, 0.08, -1);
    CHECK_NEAR(screw.wound_back_mm3(), 2.0, 1e-12);
    const auto feeds = screw.turn(25, 0, 0.1, 1);
    REQUIRE(feeds.size() == 2);
    CHECK_NEAR(feeds[0].seconds, 0.08, 1e-12);
    CHECK_NEAR(feeds[0].mm3_s, 25.0, 1e-12);
    CHECK_NEAR(feeds[1].mm3_s, 5.0, 1e-12);
    CHECK(screw.wound_back_mm3() == 0);
    CHECK_NEAR(screw.starved_mm3(), (25 - 5) * 0.02, 1e-12);
  }

  TEST_CASE("while something is wound back the store fills, and waits for its turn") {
    Screw screw(plain(5, 1));
    screw.turn(7, 0, 0.5, 1);  // the store is empty
    screw.turn(20, 0, 0.1, -1);
    CHECK_NEAR(screw.store_mm3(), 5 * 0.1, 1e-12);
    screw.turn(10, 0, 0.1, 1);
    CHECK_NEAR(screw.store_mm3(), 5 * 0.2, 1e-12);
    CHECK_NEAR(screw.wound_back_mm3(), 1.0, 1e-12);
    CHECK(screw.starved_mm3() == 0);
  }

  TEST_CASE("a retract and its giving again by parts cost nothing, whatever lies between") {
    Screw screw(plain(5));
    screw.turn(20, 0, 0.1, -1);
    screw.turn(0, 0, 3, 0);
    screw.turn(60, 0, 0.02, 1);
    screw.turn(8, 0, 0.1, 1);
    CHECK_NEAR(screw.wound_back_mm3(), 0.0, 1e-12);
    CHECK_NEAR(screw.starved_mm3(), 0.0, 1e-12);
  }

  TEST_CASE("a ramp is cut where it passes q and where the store is empty") {
    Screw screw(plain(4, 0.5));
    // x = 2 t: passes 4 at 2 s; 0.5 = (t - 2)^2 at t = 2 + sqrt(0.5)
    const auto feeds = screw.turn(0, 2, 4, 1);
    REQUIRE(feeds.size() == 3);
    CHECK_NEAR(feeds[0].seconds, 2.0, 1e-12);
    CHECK_NEAR(feeds[1].seconds, std::sqrt(0.5), 1e-12);
    CHECK_NEAR(feeds[2].seconds, 2 - std::sqrt(0.5), 1e-12);
    CHECK_NEAR(feeds[2].mm3_s, 4.0, 1e-12);
    CHECK_NEAR(duration(feeds), 4.0, 1e-12);
    // Above q 4 mm3 were asked for (a triangle of 2 s and 4 mm3/s), the store gave 0.5.
    CHECK_NEAR(screw.starved_mm3(), 4 - 0.5, 1e-12);
    CHECK_NEAR(volume(feeds) + screw.starved_mm3(), 16.0, 1e-12);
  }

  TEST_CASE("a falling ramp fills the store only once it is below q") {
    Screw screw(plain(4, 9));
    screw.turn(13, 0, 1, 1);  // the store is empty
    CHECK_NEAR(screw.store_mm3(), 0.0, 1e-12);
    screw.turn(6, -2, 3, 1);  // below 4 after 1 s; then a triangle of 2 s and 4 mm3/s
    CHECK_NEAR(screw.store_mm3(), 4.0, 1e-12);
    CHECK_NEAR(screw.starved_mm3(), 1.0, 1e-12);
  }

  TEST_CASE("a burst is no faster than max_burst, out of the store or below q") {
    Plant plant = plain(5, 2);
    plant.max_burst_mm3_s = 7;
    Screw screw(plant);
    const auto feeds = screw.turn(10, 0, 1.5, 1);
    REQUIRE(feeds.size() == 2);
    CHECK_NEAR(feeds[0].mm3_s, 7.0, 1e-12);
    CHECK_NEAR(feeds[0].seconds, 1.0, 1e-12);
    CHECK_NEAR(feeds[1].mm3_s, 5.0, 1e-12);
    CHECK_NEAR(screw.starved_mm3(), 3 * 1.0 + 5 * 0.5, 1e-12);
    plant.max_burst_mm3_s = 3;  // slower than what it feeds for long
    Screw slow(plant);
    CHECK_NEAR(volume(slow.turn(10, 0, 1, 1)), 3.0, 1e-12);
    CHECK_NEAR(slow.store_mm3(), 2.0, 1e-12);
    slow.turn(20, 0, 0.1, -1);
    CHECK_NEAR(volume(slow.turn(20, 0, 0.1, 1)), 2.0, 1e-12);  // giving again: no burst
  }

  TEST_CASE("factors hold for what is delivered, backlash comes first") {
    Plant plant = plain(5);
    plant.delivered_factor = 0.9;
    plant.reverse_factor = 0.5;
    plant.backlash_mm = 0.2;
    Screw screw(plant);
    screw.turn(10, 0, 0.1, -1);  // 0.2 mm of backlash, then 0.8 mm
    CHECK_NEAR(screw.wound_back_mm3(), 0.8 * 0.9 * 0.5, 1e-12);
    const auto feeds =
        screw.turn(10, 0, 0.1, 1);  // 0.2 mm of backlash, 0.4 mm given again, 0.4 mm new
    REQUIRE(feeds.size() == 3);
    CHECK(feeds[0].mm3_s == 0);
    CHECK_NEAR(feeds[0].seconds, 0.02, 1e-12);
    CHECK_NEAR(feeds[1].mm3_s, 9.0, 1e-12);
    CHECK_NEAR(feeds[1].seconds, 0.04, 1e-12);
    CHECK_NEAR(feeds[2].mm3_s, 5.0, 1e-12);
    CHECK_NEAR(screw.starved_mm3(), (9 - 5) * 0.04, 1e-12);
  }

  TEST_CASE("after a wait the store is full and what was wound back is still missing") {
    Plant plant = plain(5, 1);
    Barrel barrel(plant);
    barrel.advance(20, 0, 0.1, 1);
    barrel.advance(20, 0, 0.01, -1);
    CHECK_NEAR(barrel.screw().store_mm3(), 0.05, 1e-12);
    barrel.run_out();
    CHECK_NEAR(barrel.screw().store_mm3(), 1.0, 1e-12);
    CHECK_NEAR(barrel.screw().wound_back_mm3(), 0.2, 1e-12);
  }

  TEST_CASE("a linear barrel after a starving screw fills towards q") {
    Plant plant = plain(5, 1);
    plant.run_on_mm3 = 1.5;  // 0.3 s
    Barrel barrel(plant);
    barrel.advance(8, 0, 1, 1);
    // dW/dt = u - W/0.3: 8 mm3/s for 1/3 s, then 5
    const double first = 0.3 * 8 * (1 - std::exp(-1 / 0.9));
    const double last = 0.3 * 5 + (first - 0.3 * 5) * std::exp(-(2.0 / 3) / 0.3);
    CHECK_NEAR(barrel.run_on_mm3(), last, 1e-9);
    CHECK_NEAR(barrel.screw().starved_mm3(), 3 * 2.0 / 3, 1e-12);
  }

  TEST_CASE("without limits the screw feeds whatever is asked for") {
    Plant plant = plain(5);
    plant.max_flow_mm3_s.reset();
    Screw screw(plant);
    CHECK_NEAR(volume(screw.turn(500, 0, 1, 1)), 500.0, 1e-9);
    CHECK(screw.starved_mm3() == 0);
  }
}
