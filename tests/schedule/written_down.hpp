// SPDX-License-Identifier: MIT
// The schedule problem for n = 1 as a linear program, written down a second time: the rates and,
// for each lag law that may hold, the run-on after every node as columns.
#pragma once

#include <cmath>
#include <utility>
#include <vector>

#include "schedule/drafts.hpp"
#include "solve/clp_lp.hpp"

namespace meltlag_test {

// Run-on after a node: decay·W + by_rate·r, from dW/dt = r·g·v(t) − λ·W with v linear in time.
struct NodeAnswer {
  double decay, by_rate, fed_by_rate;
};

inline NodeAnswer answer(Problem const& problem, LagLaw const& law, Node const& node) {
  double const loss = law.at_flow_mm3_s / law.run_on_mm3 + problem.leak_per_s;
  double const h = node.duration_s, v = node.start_mm_s, slope = (node.end_mm_s - v) / h;
  double const gain = filament_mm2 * problem.feed.delivered_factor;
  double const decay = std::exp(-loss * h);
  // A particular solution is (v(t) − slope/λ)/λ.
  double const end = (node.end_mm_s - slope / loss) / loss, begin = (v - slope / loss) / loss;
  return {decay, gain * (end - decay * begin), gain * h * (v + node.end_mm_s) / 2};
}

struct LinearProgram {
  Lp lp;
  std::vector<int> rate_columns;
};

struct WeightedLaw {
  LagLaw law;
  double weight;
};

inline void add_joint(Lp& lp, int before, int after, double jump) {
  if (std::isfinite(jump)) lp.add_row(-jump, jump, {{after, 1}, {before, -1}});
}

// What one lag law makes of the rates, and what it costs.
inline void add_law(Problem const& problem, WeightedLaw const& weighted, LinearProgram& program) {
  Lp& lp = program.lp;
  LagLaw const& law = weighted.law;
  double const nozzle = law.at_flow_mm3_s / law.run_on_mm3;
  double const share = nozzle / (nozzle + problem.leak_per_s);
  double const most = std::isfinite(problem.most_run_on_mm3) ? problem.most_run_on_mm3 : infinity;
  std::vector<std::vector<std::pair<int, double>>> cells(problem.wanted_mm3.size());
  int run_on = lp.add_column(0, problem.start_run_on_mm3, problem.start_run_on_mm3);
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    int const rate = program.rate_columns[i];
    for (std::uint32_t j = cut.first_node; j < cut.first_node + cut.nodes; ++j) {
      NodeAnswer const a = answer(problem, law, problem.nodes[j]);
      bool const last = j + 1 == cut.first_node + cut.nodes;
      int const next = lp.add_column(0, last ? 0 : -infinity, last ? most : infinity);
      lp.add_row(0, 0, {{next, 1}, {run_on, -a.decay}, {rate, -a.by_rate}});
      auto& cell = cells[problem.nodes[j].cell];
      cell.insert(cell.end(), {{run_on, share}, {rate, share * a.fed_by_rate}, {next, -share}});
      run_on = next;
    }
  }
  for (std::size_t c = 0; c < cells.size(); ++c) {
    cells[c].emplace_back(lp.add_column(weighted.weight, 0, infinity), -1);
    cells[c].emplace_back(lp.add_column(weighted.weight, 0, infinity), 1);
    lp.add_row(problem.wanted_mm3[c], problem.wanted_mm3[c], cells[c]);
  }
}

// The least mean over the laws.
inline LinearProgram write_down(Problem const& problem, std::vector<WeightedLaw> const& laws) {
  LinearProgram result;
  Lp& lp = result.lp;
  for (Cut const& cut : problem.cuts) {
    result.rate_columns.push_back(cut.fixed ? lp.add_column(0, cut.rate, cut.rate)
                                            : lp.add_column(0, cut.rate_low, cut.rate_high));
  }
  for (WeightedLaw const& law : laws) add_law(problem, law, result);
  for (std::size_t i = 0; i + 1 < problem.cuts.size(); ++i) {
    add_joint(lp, result.rate_columns[i], result.rate_columns[i + 1], problem.cuts[i].jump_to_next);
  }
  if (problem.rate_before) {
    int const before = lp.add_column(0, *problem.rate_before, *problem.rate_before);
    add_joint(lp, before, result.rate_columns.front(), problem.jump_before);
  }
  if (problem.rate_after) {
    int const after = lp.add_column(0, *problem.rate_after, *problem.rate_after);
    add_joint(lp, result.rate_columns.back(), after, problem.jump_after);
  }
  return result;
}

}  // namespace meltlag_test
