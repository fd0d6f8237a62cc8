// SPDX-License-Identifier: MIT
#include "meltlag/melt/residence_time.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "meltlag/melt/parts.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;

TEST_SUITE("melt") {
  // Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 15 (from memory): laminar flow of a
  // Newtonian liquid in a pipe has F(t) = 1 − (mean/2t)² from half of the mean on.
  TEST_CASE("a Newtonian melt in a pipe leaves as the textbook says") {
    LaminarResidence const residence{.mean_s = 60, .flow_index = 1};
    CHECK_CLOSE(shortest_residence_s(residence), 30, 1e-14);
    CHECK(share_out_by(residence, 29.9) == 0);
    for (double const t : {30.1, 45.0, 60.0, 120.0, 600.0})
      CHECK_NEAR(share_out_by(residence, t), 1 - std::pow(60 / (2 * t), 2), 1e-12);
    CHECK_CLOSE(share_out_by(residence, 60), 0.75, 1e-12);
    CHECK_CLOSE(residence_of_slowest_s(residence, 0.01), 300, 1e-9);
  }

  TEST_CASE(
      "the residence times of a power-law melt agree with rings added up, and have the right "
      "mean") {
    for (double const n : {0.28, 0.5, 0.69, 1.0, 1.3}) {
      CAPTURE(n);
      LaminarResidence const residence{.mean_s = 10, .flow_index = n};
      CHECK_CLOSE(shortest_residence_s(residence), 10 * (n + 1) / (3 * n + 1), 1e-14);
      constexpr int rings = 200'000;
      double const a = (n + 1) / n, c = (3 * n + 1) / (n + 1);
      double out = 0, time_weighted = 0;
      for (int i = 0; i < rings; ++i) {
        double const s = (i + 0.5) / rings, v = c * (1 - std::pow(s, a));
        double const flow = 2 * s / rings * v;
        if (10 / v <= 15) out += flow;
        time_weighted += flow * 10 / v;
      }
      CHECK_NEAR(share_out_by(residence, 15), out, 2e-5);
      CHECK_CLOSE(time_weighted, 10, 1e-5);  // the volume: every ring's own
    }
  }

  TEST_CASE("so much is to be pushed through until little of it is old") {
    // Newtonian: (V/2v)² = 0.05 old at v = V·√5.
    CHECK_CLOSE(
        flush_mm3({.melt_volume_mm3 = 100, .flow_index = 1}, 0.05), 100 * std::sqrt(5.0), 1e-9);
    CHECK(flush_mm3({.melt_volume_mm3 = 100, .flow_index = 0.3}, 0.05) < 100 * std::sqrt(5.0));
    ResidenceFacts const facts = residence_facts({.melt_volume_mm3 = 1200, .flow_index = 1}, 20);
    CHECK_CLOSE(facts.mean_s, 60, 1e-14);
    CHECK_CLOSE(facts.slow_s, 300, 1e-9);
    CHECK_CLOSE(facts.flush_mm3, 1200 * std::sqrt(5.0), 1e-9);
  }

  // Common practice, no source: a hot zone of 5 mm bore and 12.5 mm length; a screw of 4.5 mm ends
  // 5 mm above the nozzle. By hand: π/4·(25 − 20.25)·7.5 + π/4·25·5 = 27.98 + 98.17 = 126.2 mm³,
  // at 2 mm³/s 63.1 s.
  TEST_CASE("a short hot zone holds and keeps melt as a hand calculation says") {
    Barrel barrel{.sections = {{.length_mm = 7.5, .bore_mm = 5, .screw_core_mm = 4.5}},
                  .tip_gap_mm = 5};
    double const volume = melt_volume_mm3(barrel);
    CHECK_NEAR(volume, 126.2, 0.05 /* mm³ */);
    CHECK_NEAR(mean_residence_s(volume, 2), 63.1, 0.05 /* s */);
    double const gap = 98.17;
    barrel.sections[0].length_mm /= 2;
    double const half = melt_volume_mm3(barrel);
    CHECK_NEAR((half - gap) / (volume - gap), 0.5, 2e-4);
    CHECK_NEAR(
        mean_residence_s(volume, 2) - mean_residence_s(half, 2), 27.98 / 2 / 2, 0.01 /* s */);
  }
}
