// SPDX-License-Identifier: MIT
// Fewer unknowns: what groups of cuts share, and what that costs.
#include "meltlag/schedule/coarse.hpp"

#include <doctest/doctest.h>

#include <limits>
#include <numeric>

#include "drafts.hpp"
#include "support/near.hpp"

using namespace meltlag::schedule;
using namespace meltlag_test;

namespace {

constexpr double share = 0.3;
constexpr Coarseness coarseness{share, 0};
constexpr double infinity = std::numeric_limits<double>::infinity();

// For how long each group goes on.
std::vector<double> durations(Problem const& problem) {
  std::vector<double> out;
  for (Cut const& cut : problem.cuts) {
    double sum = 0;
    for (std::uint32_t n = 0; n < cut.nodes; ++n)
      sum += problem.nodes[cut.first_node + n].duration_s;
    out.push_back(sum);
  }
  return out;
}

// A bead of 4 s between two travels, in cuts of 20 ms.
Problem long_bead() {
  Draft draft(law_of(1));
  draft.travel({.seconds = 0.1, .start_mm_s = 60, .end_mm_s = 30, .cuts = 2})
      .bead({.seconds = 4, .start_mm_s = 30, .end_mm_s = 30, .cuts = 200})
      .travel({.seconds = 0.1, .start_mm_s = 30, .end_mm_s = 60, .cuts = 2});
  return draft.problem();
}

std::vector<double> coarsely_optimised(Problem const& problem) {
  CoarseGrid grid;
  Problem const& coarse = grid.coarsen(problem, coarseness);
  std::vector<double> rates = as_written(problem), shared;
  grid.gather(rates, shared);
  Optimiser optimiser;
  (void)optimiser.optimise(coarse, {}, shared);
  grid.spread(shared, rates);
  return rates;
}

}  // namespace

TEST_SUITE("schedule") {
  TEST_CASE("groups grow with the distance from both ends of a bead and leave its ends fine") {
    Problem const fine = long_bead();
    CoarseGrid grid;
    Problem const& coarse = grid.coarsen(fine, coarseness);
    CHECK(coarse.cuts.size() <= fine.cuts.size() / 5);
    std::vector<double> const groups = durations(coarse);
    CHECK_NEAR(std::accumulate(groups.begin(), groups.end(), 0.0), 4.2, 1e-9);
    double at = 0;
    for (double const group : groups) {
      double const behind = at + group;
      double const nearest = std::min({std::abs(at - 0.1), std::abs(4.1 - behind), 2.0});
      bool const inside = at >= 0.1 - 1e-9 && behind <= 4.1 + 1e-9;
      if (inside) CHECK(group <= std::max(share * nearest, 0.02) + 1e-9);
      at = behind;
    }
    CHECK_NEAR(groups[2], 0.02, 1e-9);
    CHECK(*std::max_element(groups.begin(), groups.end()) > 0.4);
    CHECK(grid.coarsen(fine, coarseness).wanted_mm3.size() < fine.wanted_mm3.size() / 4);
  }

  TEST_CASE("beside a change groups are as long as they may be anywhere, their cells apart") {
    Problem const fine = long_bead();
    CoarseGrid grid;
    Problem const& coarse = grid.coarsen(fine, {0, 0.05});
    for (double const group : durations(coarse)) CHECK(group <= 0.05 + 1e-9);
    CHECK(coarse.cuts.size() <= fine.cuts.size() / 2 + 4);
    CHECK(coarse.wanted_mm3.size() == fine.wanted_mm3.size());
    CHECK(grid.coarsen(fine, {}).cuts.size() == fine.cuts.size());
  }

  TEST_CASE("what is wanted stays wanted, and rates come back as they went") {
    Problem const fine = random_beads(0.5, 20, 7);
    CoarseGrid grid;
    Problem const& coarse = grid.coarsen(fine, coarseness);
    CHECK_NEAR(wanted_total(coarse), wanted_total(fine), 1e-9);
    std::vector<double> const rates = as_written(fine);
    std::vector<double> shared, back;
    grid.gather(rates, shared);
    REQUIRE(shared.size() == coarse.cuts.size());
    grid.spread(shared, back);
    REQUIRE(back.size() == rates.size());
    for (std::size_t i = 0; i < rates.size(); ++i) CHECK_NEAR(back[i], rates[i], 1e-12);
    Outcome a, b;
    simulate(fine, rates, a);
    simulate(coarse, shared, b);
    CHECK_NEAR(a.run_on_mm3.back(), b.run_on_mm3.back(), 1e-5);
  }

  TEST_CASE("no group goes over a given rate, a halt, a wait or another law") {
    for (auto const& part : {+[](Cut& cut) { cut.fixed = true; },
                             +[](Cut& cut) { cut.lumps = true; },
                             +[](Cut& cut) { cut.run_out_after = true; },
                             +[](Cut& cut) { cut.law = 1; },
                             +[](Cut& cut) { cut.jump_to_next = infinity; }}) {
      Problem fine = long_bead();
      fine.laws.push_back(fine.laws.front());
      part(fine.cuts[100]);
      CoarseGrid grid;
      Problem const& coarse = grid.coarsen(fine, coarseness);
      constexpr double begins_s = 0.1 + 98 * 0.02, ends_s = begins_s + 0.02, close_s = 1e-9;
      bool ends_there = false;
      double at = 0;
      for (double const group : durations(coarse)) {
        double const begin = at;
        at += group;
        ends_there |= std::abs(at - ends_s) < close_s;
        CHECK((at < ends_s + close_s || begin > begins_s - close_s));
      }
      CHECK(ends_there);
    }
  }

  TEST_CASE("the shared optimum keeps every limit and loses nearly nothing") {
    for (double const flow_index : {1.0, 0.5}) {
      for (unsigned const seed : {1U, 2U, 3U}) {
        Problem problem = random_beads(flow_index, 30, seed);
        problem.supply = {.max_flow_mm3_s = 9};
        std::vector<double> const rates = coarsely_optimised(problem);
        CHECK(broken_limit(problem, rates) == "");
        double const fine = misplaced_percent(problem, optimised(problem));
        CHECK(misplaced_percent(problem, rates) <= fine + 0.15);
      }
    }
    Problem const bead = long_bead();
    double const fine = misplaced_percent(bead, optimised(bead));
    CHECK(misplaced_percent(bead, coarsely_optimised(bead)) <= 1.08 * fine);
  }
}
