// SPDX-License-Identifier: MIT
#include <random>
#include <tuple>

#include "schedule/drafts.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::schedule;
using namespace meltlag_test;

// What a feeder without foresight does: cut by cut the rate that serves this cut's cells best.
std::vector<double> reactive(Problem const& problem) {
  std::vector<double> rates = as_written(problem);
  Outcome outcome;
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    double low = cut.rate_low, high = cut.rate_high;
    if (i > 0) {
      low = std::max(low, rates[i - 1] - problem.cuts[i - 1].jump_to_next);
      high = std::min(high, rates[i - 1] + problem.cuts[i - 1].jump_to_next);
    }
    double best = std::numeric_limits<double>::infinity(), best_rate = low;
    for (int k = 0; k <= 60; ++k) {
      rates[i] = low + (high - low) * k / 60;
      simulate(problem, rates, outcome);
      double cost = 10 * std::max(0.0, -outcome.run_on_mm3[i + 1]);
      std::uint32_t const first = problem.nodes[cut.first_node].cell;
      std::uint32_t const last = problem.nodes[cut.first_node + cut.nodes - 1].cell;
      for (std::uint32_t c = first; c <= last; ++c) {
        cost += std::abs(outcome.got_mm3[c] - problem.wanted_mm3[c]);
      }
      if (cost < best) std::tie(best, best_rate) = std::pair{cost, rates[i]};
    }
    rates[i] = best_rate;
  }
  return rates;
}

double least_run_on(Problem const& problem, std::vector<double> const& rates) {
  Outcome outcome;
  simulate(problem, rates, outcome);
  return *std::min_element(outcome.run_on_mm3.begin() + 1, outcome.run_on_mm3.end());
}

// The best of many random changes of one to four neighbouring rates that keep every limit and
// empty the nozzle no further.
double best_neighbour_percent(Problem const& problem,
                              std::vector<double> const& rates,
                              unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_int_distribution<std::size_t> where(0, rates.size() - 1), width(1, 4);
  std::normal_distribution<double> change(0, 1);
  std::uniform_real_distribution<double> size(-4, -0.5);
  double best = misplaced_percent(problem, rates);
  double const emptiest = std::min(0.0, least_run_on(problem, rates));
  int tried = 0;
  for (int k = 0; k < 3000; ++k) {
    std::vector<double> other = rates;
    double const by = Draft::bead_rate * std::pow(10.0, size(random));
    std::size_t const from = where(random), n = width(random);
    for (std::size_t i = from; i < std::min(from + n, rates.size()); ++i) {
      if (!problem.cuts[i].fixed) other[i] += by * change(random);
    }
    if (!broken_limit(problem, other).empty() || least_run_on(problem, other) < emptiest - 1e-6)
      continue;
    ++tried;
    best = std::min(best, misplaced_percent(problem, other));
  }
  CHECK(tried > 300);
  return best;
}

TEST_SUITE("schedule") {
  TEST_CASE("foresight beats the file as written and a feeder without foresight") {
    for (double n : {1.0, 0.7, 0.5, 0.35}) {
      CAPTURE(n);
      Problem const problem = two_beads(n);
      double const written = misplaced_percent(problem, as_written(problem));
      double const react = misplaced_percent(problem, reactive(problem));
      double const result = misplaced_percent(problem, optimised(problem));
      MESSAGE("n = ", n, ": ", written, " % as written, ", react, " % reactive, ", result, " %");
      CHECK(result < 0.5 * written);
      CHECK(result < 0.95 * react);
    }
  }

  TEST_CASE(
      "no feasible change of a few rates is better by more than 1 % or a twentieth of a point") {
    for (double n : {1.0, 0.7, 0.5, 0.35}) {
      CAPTURE(n);
      for (Problem const& problem : {two_beads(n), random_beads(n, 5, 9)}) {
        std::vector<double> const rates = optimised(problem);
        double const here = misplaced_percent(problem, rates);
        CHECK(here - best_neighbour_percent(problem, rates, 4) <= std::max(0.05, 0.01 * here));
      }
    }
  }

  TEST_CASE("a good start is not made worse") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem const problem = random_beads(n, 5, 12);
      std::vector<double> rates = optimised(problem);
      double const before = misplaced_percent(problem, rates);
      Optimiser optimiser;
      optimiser.optimise(problem, {}, rates);
      CHECK(misplaced_percent(problem, rates) <= before + 0.02);
    }
  }

  TEST_CASE("a start that keeps its limits is returned when nothing better is found") {
    struct {
      Problem problem;
      int most_rounds;
    } const rows[] = {{two_beads(0.5), 1}, {two_beads(0.35), 1}, {random_beads(0.25, 4, 55), 12}};
    for (auto const& row : rows) {
      CAPTURE(row.problem.laws[0].flow_index);
      REQUIRE(broken_limit(row.problem, as_written(row.problem)) == "");
      double const start = misplaced_percent(row.problem, as_written(row.problem));
      OptimiseSettings settings;
      settings.most_rounds = row.most_rounds;
      Optimiser optimiser;
      std::vector<double> rates;
      OptimiseInfo const info = optimiser.optimise(row.problem, settings, rates);
      CHECK(misplaced_percent(row.problem, rates) <= start + 1e-9);
      CHECK((info.status == OptimiseStatus::not_better) == (rates == as_written(row.problem)));
    }
  }

  TEST_CASE("a steady bead that is already served is left alone") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Draft draft(law_of(n));
      draft.bead({.seconds = 1, .start_mm_s = 40, .end_mm_s = 40, .cuts = 20});
      Problem& problem = draft.problem();
      problem.start_run_on_mm3 = 1.5 * std::pow(Draft::bead_rate * filament_mm2 * 40 / 5, n);
      std::vector<double> const rates = optimised(problem);
      CHECK(misplaced_percent(problem, rates) <= 0.05);
    }
  }

  TEST_CASE("an empty nozzle is refilled before the bead begins") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = two_beads(n);
      problem.start_run_on_mm3 = -0.5;
      std::vector<double> const rates = optimised(problem);
      CHECK(broken_limit(problem, rates) == "");
      Outcome outcome;
      simulate(problem, rates, outcome);
      CHECK(outcome.run_on_mm3[4] > 0.1);  // where the first bead begins
      double const written = misplaced_percent(problem, as_written(problem));
      double const result = misplaced_percent(problem, rates);
      MESSAGE("n = ", n, ": ", written, " % as written, ", result, " %");
      CHECK(result < 0.7 * written);
    }
  }

  TEST_CASE("run-on that what follows expects is left in the nozzle") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = random_beads(n, 2, 3);
      double const least = misplaced_percent(problem, optimised(problem));
      Outcome outcome;
      for (double wanted : {0.3, 0.6}) {
        CAPTURE(wanted);
        problem.end_run_on_mm3 = wanted;
        std::vector<double> const rates = optimised(problem);
        simulate(problem, rates, outcome);
        double const off = std::abs(outcome.run_on_mm3.back() - wanted);
        CHECK(off < 0.1);
        CHECK(misplaced_percent(problem, rates) >= least - 0.05);
      }
    }
  }

  TEST_CASE("knowing of backlash or of a weak reverse stroke beats not knowing") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem const plain = random_beads(n, 6, 14);
      std::vector<double> const unaware = optimised(plain);
      CHECK(*std::min_element(unaware.begin(), unaware.end()) < -0.1 * Draft::bead_rate);
      for (bool const backlash : {true, false}) {
        CAPTURE(backlash);
        Problem problem = plain;
        if (backlash) problem.feed.backlash_mm = 0.1;
        if (!backlash) problem.feed.reverse_factor = 0.6;
        std::vector<double> const aware = optimised(problem);
        CHECK(broken_limit(problem, aware) == "");
        double const without = misplaced_percent(problem, unaware);
        double const with = misplaced_percent(problem, aware);
        MESSAGE("n = ",
                n,
                std::string(backlash ? ", backlash: " : ", reverse: "),
                without,
                " % → ",
                with,
                " %");
        CHECK(with < without);
      }
    }
  }

  TEST_CASE("a strongly thinning melt is served as well at once as by way of milder ones") {
    for (unsigned seed : {1U, 6U, 8U, 16U, 18U}) {
      CAPTURE(seed);
      Problem problem = random_beads(0.35, 4, seed);
      double const at_once = misplaced_percent(problem, optimised(problem));
      Optimiser optimiser;
      std::vector<double> rates;
      for (double n : {0.7, 0.5, 0.35}) {
        problem.laws[0].flow_index = n;
        optimiser.optimise(problem, {}, rates);
      }
      REQUIRE(broken_limit(problem, rates) == "");
      CHECK(at_once <= misplaced_percent(problem, rates) + 0.5);
    }
  }
}

}  // namespace
