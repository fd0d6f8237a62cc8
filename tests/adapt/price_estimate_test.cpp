// SPDX-License-Identifier: MIT
#include "../src/adapt/price_estimate.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace meltlag;

TEST_SUITE("adapt") {
  TEST_CASE("where time jumps at one price the search for it ends soon") {
    constexpr double jump_at = 4.25;
    int passes = 0;
    adapt::PriceEstimate estimate(
        [&](std::vector<double> const& prices) {
          std::vector<adapt::PriceEstimate::Point> out;
          for (double const price : prices) {
            ++passes;
            bool const slow = price < jump_at;
            out.push_back({price, slow ? 0.4 : 0.0, slow ? 0.03 : 0.36});
          }
          return out;
        },
        5);
    constexpr int asked = 10;
    for (int i = 0; i < asked; ++i) {
      double const price = estimate.price_for(&adapt::PriceEstimate::Point::extra, 0.05 + 0.01 * i);
      CHECK(std::abs(price / jump_at - 1) < 0.1);
    }
    CHECK(passes <= 30);
  }

  TEST_CASE("prices close to each other do not end the search for cheaper ones") {
    // Each halving of the price buys 4 % of time and a fifth of a point.
    adapt::PriceEstimate estimate(
        [&](std::vector<double> const& prices) {
          std::vector<adapt::PriceEstimate::Point> out;
          for (double const price : prices) {
            double const halvings = std::max(0.0, std::log2(8 / price));
            out.push_back({price, 0.04 * halvings, std::max(0.01, 0.05 - 0.002 * halvings)});
          }
          return out;
        },
        5);
    for (double const extra : {0.22, 0.23, 0.235, 0.238, 0.24, 0.4}) {
      CAPTURE(extra);
      double const price = estimate.price_for(&adapt::PriceEstimate::Point::extra, extra);
      CHECK(0.04 * std::log2(8 / price) == doctest::Approx(extra).epsilon(0.1));
    }
  }
}
