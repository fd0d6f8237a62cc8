// SPDX-License-Identifier: MIT
// Backlash: after each reversal the screw turns without effect until it bears on the other flank.
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "meltlag/melt/plant.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

PlantParameters with_backlash(double n, double backlash_mm3) {
  PlantParameters parameters{.law = {.run_on_mm3 = 3, .at_flow_mm3_s = 5, .flow_index = n},
                             .feed = {.slicer_diameter_mm = 1.75}};
  parameters.feed.backlash_mm = backlash_mm3 / parameters.feed.area_mm2();
  return parameters;
}

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("backlash is taken up forward at the start, so nothing is lost at first") {
    Plant plant(with_backlash(1, 0.8)), plain(with_backlash(1, 0));
    CHECK_NEAR(plant.backlash_position_mm3(), 0.8, 1e-14);
    CHECK(plant.advance({0.3, 2, 5}) == plain.advance({0.3, 2, 5}));
    CHECK(plant.run_on_mm3() == plain.run_on_mm3());
  }

  TEST_CASE("a reversal loses exactly the backlash, split at the moment it is taken up") {
    for (double const n : {0.5, 1.0}) {
      CAPTURE(n);
      Plant plant(with_backlash(n, 0.8)), by_hand(with_backlash(n, 0));
      plant.set_run_on(3);
      by_hand.set_run_on(3);
      // A ramp 0 … −8 within 0.5 s brings 0.8 mm³ after √(2·0.8/16) s.
      double const dead_s = std::sqrt(0.1);
      double const out = plant.advance({0.5, 0, -8});
      double const expected =
          by_hand.advance({dead_s, 0, 0}) + by_hand.advance({0.5 - dead_s, -16 * dead_s, -8});
      CHECK_CLOSE(out, expected, 1e-12);
      CHECK_CLOSE(plant.run_on_mm3(), by_hand.run_on_mm3(), 1e-12);
      CHECK(plant.backlash_position_mm3() == 0);
    }
  }

  TEST_CASE("a falling ramp takes up backlash at the right moment too") {
    Plant plant(with_backlash(1, 0.8)), by_hand(with_backlash(1, 0));
    plant.advance({0.1, -8, -8});  // takes up all the backlash backward and no more
    by_hand.set_run_on(plant.run_on_mm3());
    CHECK_NEAR(plant.run_on_mm3(), 0, 1e-15);
    // 10 → 0 in 1 s: 10·t − 5·t² = 0.8 at t = 1 − √0.84.
    double const dead_s = 1 - std::sqrt(0.84);
    double const out = plant.advance({1, 10, 0});
    double const expected = by_hand.advance({1 - dead_s, 10 * (1 - dead_s), 0});
    CHECK_CLOSE(out, expected, 1e-12);
    CHECK_NEAR(plant.run_on_mm3(), by_hand.run_on_mm3(), 1e-12);
  }

  TEST_CASE("a small back-and-forth inside the backlash moves no melt") {
    Plant plant(with_backlash(0.5, 0.8));
    plant.set_run_on(-1);
    plant.advance({0.1, -3, -3});
    CHECK_NEAR(plant.backlash_position_mm3(), 0.5, 1e-14);
    plant.advance({0.1, 2, 2});
    CHECK_NEAR(plant.backlash_position_mm3(), 0.7, 1e-14);
    CHECK(plant.run_on_mm3() == -1);
    plant.advance({0.1, 2, 2});
    CHECK_NEAR(plant.backlash_position_mm3(), 0.8, 1e-14);
    CHECK_NEAR(plant.run_on_mm3(), -0.9, 1e-14);
  }

  TEST_CASE("cutting pieces anywhere changes nothing, backlash and reversals included") {
    std::mt19937_64 random(11);
    std::uniform_real_distribution<double> unit(0, 1);
    PlantParameters parameters = with_backlash(1, 0.6);
    parameters.feed.reverse_factor = 0.7;
    Plant whole(parameters), cut(parameters);
    double out_whole = 0, out_cut = 0;
    for (int i = 0; i < 2000; ++i) {
      double const sign = unit(random) < 0.4 ? -1 : 1, t = 0.01 + 0.3 * unit(random);
      double const a = sign * 10 * unit(random), b = sign * 10 * unit(random);
      double const share = unit(random), middle = a + share * (b - a);
      out_whole += whole.advance({t, a, b});
      out_cut += cut.advance({share * t, a, middle});
      out_cut += cut.advance({(1 - share) * t, middle, b});
      REQUIRE(std::abs(whole.run_on_mm3() - cut.run_on_mm3()) < 1e-9);
    }
    CHECK_NEAR(out_whole, out_cut, 1e-8);
    CHECK(out_whole > 100);
  }
}
