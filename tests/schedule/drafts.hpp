// SPDX-License-Identifier: MIT
// Small problems built by hand, and the limits that any answer to them must keep.
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <string>

#include "meltlag/schedule/problem.hpp"

namespace meltlag_test {

using meltlag::melt::LagLaw;
using meltlag::schedule::Cut;
using meltlag::schedule::Node;
using meltlag::schedule::Problem;

inline constexpr double filament_mm2 = std::numbers::pi * 1.75 * 1.75 / 4;

// A stretch of path at steadily changing speed.
struct Stretch {
  double seconds;
  double start_mm_s, end_mm_s;
  std::uint32_t cuts = 1;
  std::uint32_t nodes_per_cut = 4;
};

// Lays beads and travels one after the other. A bead's rate as written is `bead_rate` and each of
// its nodes is a cell; a travel is one cell and its rate as written is 0.
class Draft {
 public:
  explicit Draft(LagLaw const& law) {
    problem_.laws.push_back(law);
    problem_.feed.slicer_diameter_mm = 1.75;
  }

  Draft& bead(Stretch const& s) {
    lay(s, bead_rate, false);
    return *this;
  }
  Draft& travel(Stretch const& s) {
    lay(s, 0, !travelling_);
    return *this;
  }
  [[nodiscard]] Problem const& problem() const { return problem_; }
  [[nodiscard]] Problem& problem() { return problem_; }

  static constexpr double bead_rate = 0.05;  // 4.8 mm³/s at 40 mm/s

 private:
  void lay(Stretch const& s, double rate, bool new_travel) {
    std::uint32_t const nodes = s.cuts * s.nodes_per_cut;
    if (new_travel) problem_.wanted_mm3.push_back(0);
    travelling_ = rate == 0;
    for (std::uint32_t i = 0; i < nodes; ++i) {
      if (i % s.nodes_per_cut == 0) add_cut(s.nodes_per_cut, rate);
      double const h = s.seconds / nodes, slope = (s.end_mm_s - s.start_mm_s) / nodes;
      Node node{h, s.start_mm_s + slope * i, s.start_mm_s + slope * (i + 1), 0};
      if (!travelling_) {
        problem_.wanted_mm3.push_back(rate * filament_mm2 * h * (node.start_mm_s + node.end_mm_s) /
                                      2);
      }
      node.cell = static_cast<std::uint32_t>(problem_.wanted_mm3.size()) - 1;
      problem_.nodes.push_back(node);
    }
  }
  void add_cut(std::uint32_t nodes, double rate) {
    Cut cut;
    cut.first_node = static_cast<std::uint32_t>(problem_.nodes.size());
    cut.nodes = nodes;
    cut.rate = rate;
    cut.rate_low = -2 * bead_rate;
    cut.rate_high = 3 * bead_rate;
    cut.jump_to_next = 1.5 * bead_rate;
    problem_.cuts.push_back(cut);
  }

  Problem problem_;
  bool travelling_ = false;
};

inline LagLaw law_of(double flow_index) {
  return {.run_on_mm3 = 1.5,
          .at_flow_mm3_s = 5,
          .flow_index = flow_index,
          .at_c = std::nullopt,
          .activation_kj_mol = std::nullopt};
}

// Start from an empty-running screw, a bead with its ramps, a travel, a second bead, a way out.
inline Problem two_beads(double flow_index) {
  Draft draft(law_of(flow_index));
  draft.travel({.seconds = 0.3, .start_mm_s = 60, .end_mm_s = 60, .cuts = 4})
      .bead({.seconds = 0.05, .start_mm_s = 10, .end_mm_s = 40})
      .bead({.seconds = 1.0, .start_mm_s = 40, .end_mm_s = 40, .cuts = 20})
      .bead({.seconds = 0.05, .start_mm_s = 40, .end_mm_s = 10})
      .travel({.seconds = 0.1, .start_mm_s = 10, .end_mm_s = 100, .cuts = 2})
      .travel({.seconds = 0.1, .start_mm_s = 100, .end_mm_s = 10, .cuts = 2})
      .bead({.seconds = 0.05, .start_mm_s = 10, .end_mm_s = 40})
      .bead({.seconds = 0.6, .start_mm_s = 40, .end_mm_s = 40, .cuts = 12})
      .bead({.seconds = 0.05, .start_mm_s = 40, .end_mm_s = 5})
      .travel({.seconds = 0.2, .start_mm_s = 5, .end_mm_s = 80, .cuts = 4});
  return draft.problem();
}

// Beads of random lengths and speeds with travels between them.
inline Problem random_beads(double flow_index, std::uint32_t beads, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> speed(20, 60), pause(0.05, 0.3);
  std::uniform_int_distribution<std::uint32_t> cuts(2, 12);
  Draft draft(law_of(flow_index));
  for (std::uint32_t b = 0; b < beads; ++b) {
    std::uint32_t const n = cuts(random);
    double const v = speed(random), away = pause(random);
    draft.travel({.seconds = away, .start_mm_s = 8, .end_mm_s = 90, .cuts = 2})
        .travel({.seconds = 0.08, .start_mm_s = 90, .end_mm_s = 8, .cuts = 2})
        .bead({.seconds = 0.04, .start_mm_s = 8, .end_mm_s = v})
        .bead({.seconds = 0.05 * n, .start_mm_s = v, .end_mm_s = v, .cuts = n})
        .bead({.seconds = 0.04, .start_mm_s = v, .end_mm_s = 8});
  }
  return draft.problem();
}

inline std::vector<double> as_written(Problem const& problem) {
  std::vector<double> rates;
  for (Cut const& cut : problem.cuts) rates.push_back(cut.rate);
  return rates;
}

inline double wanted_total(Problem const& problem) {
  double sum = 0;
  for (double w : problem.wanted_mm3) sum += w;
  return sum;
}

inline double misplaced_percent(Problem const& problem, std::vector<double> const& rates) {
  meltlag::schedule::Outcome outcome;
  simulate(problem, rates, outcome);
  return 100 * outcome.misplaced_mm3 / wanted_total(problem);
}

inline std::vector<double> optimised(Problem const& problem) {
  meltlag::schedule::Optimiser optimiser;
  std::vector<double> rates;
  optimiser.optimise(problem, {}, rates);
  return rates;
}

// The first limit that the rates break by more than `slack`, in words; empty: none.
inline std::string broken_limit(Problem const& problem,
                                std::vector<double> const& rates,
                                double slack = 1e-6) {
  auto const apart = [&](double a, double b, double jump) {
    return std::abs(a - b) > jump + slack;
  };
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    std::string const at = " at cut " + std::to_string(i) + ": " + std::to_string(rates[i]);
    if (!std::isfinite(rates[i])) return "not a number" + at;
    if (cut.fixed && rates[i] != cut.rate) return "fixed rate changed" + at;
    if (!cut.fixed && (rates[i] < cut.rate_low - slack || rates[i] > cut.rate_high + slack)) {
      return "rate outside its range" + at;
    }
    if (i + 1 < rates.size() && apart(rates[i], rates[i + 1], cut.jump_to_next)) {
      return "jump too large" + at + " then " + std::to_string(rates[i + 1]);
    }
  }
  if (problem.rate_before && apart(rates.front(), *problem.rate_before, problem.jump_before)) {
    return "jump into the first cut too large";
  }
  if (problem.rate_after && apart(rates.back(), *problem.rate_after, problem.jump_after)) {
    return "jump out of the last cut too large";
  }
  return "";
}

}  // namespace meltlag_test
