// SPDX-License-Identifier: MIT
#include "meltlag/schedule/robust.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "support/near.hpp"

using namespace meltlag::schedule;

TEST_SUITE("schedule") {
  TEST_CASE("the plants that stand for an uncertainty have its deviations and correlation") {
    for (double const correlation : {0.0, -0.8, 0.5}) {
      LagSpread const spread{
          .run_on_share_sd = 0.3, .flow_index_sd = 0.12, .correlation = correlation};
      double weight = 0, s = 0, n = 0, ss = 0, nn = 0, sn = 0;
      for (Scenario const& p : scenarios_of(spread)) {
        double const a = std::log(p.run_on_factor), b = p.flow_index_shift;
        weight += p.weight;
        s += p.weight * a;
        n += p.weight * b;
        ss += p.weight * a * a;
        nn += p.weight * b * b;
        sn += p.weight * a * b;
      }
      CHECK_NEAR(weight, 1, 1e-12);
      CHECK_NEAR(s, 0, 1e-12);
      CHECK_NEAR(n, 0, 1e-12);
      CHECK_NEAR(std::sqrt(ss), 0.3, 0.001);
      CHECK_NEAR(std::sqrt(nn), 0.12, 0.001);
      CHECK_NEAR(sn / std::sqrt(ss * nn), correlation, 1e-9);
    }
  }

  TEST_CASE("without an uncertainty every plant is the believed one") {
    CHECK(!LagSpread{}.known());
    for (Scenario const& p : scenarios_of({})) {
      CHECK(p.run_on_factor == 1);
      CHECK(p.flow_index_shift == 0);
    }
  }
}
