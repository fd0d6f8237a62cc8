// SPDX-License-Identifier: MIT
#include <cmath>

#include "meltlag/schedule/problem.hpp"
#include "response.hpp"

namespace meltlag::schedule {

double path_mm(Problem const& problem, Cut const& cut) {
  double sum = 0;
  for (std::uint32_t n = cut.first_node; n < cut.first_node + cut.nodes; ++n) {
    Node const& node = problem.nodes[n];
    sum += node.duration_s * (node.start_mm_s + node.end_mm_s) / 2;
  }
  return sum;
}

void Problem::clear() {
  nodes.clear();
  cuts.clear();
  wanted_mm3.clear();
  cell_price.clear();
  may_lump.clear();
  laws.clear();
  rate_before.reset();
  rate_after.reset();
  end_run_on_mm3.reset();
}

void simulate(Problem const& problem, std::vector<double> const& rates, Outcome& outcome) {
  Linearisation line;
  linearise(problem, rates, line);
  outcome.got_mm3.assign(problem.wanted_mm3.size(), 0.0);
  for (CellShare const& share : line.shares) outcome.got_mm3[share.cell] += share.got_mm3;
  outcome.misplaced_mm3 = 0;
  for (std::size_t c = 0; c < outcome.got_mm3.size(); ++c) {
    outcome.misplaced_mm3 += std::abs(outcome.got_mm3[c] - problem.wanted_mm3[c]);
  }
  outcome.wound_back_mm3.clear();
  outcome.store_mm3.clear();
  outcome.starved_mm3.clear();
  double starved = 0;
  for (CutResponse const& cut : line.cuts) {
    outcome.wound_back_mm3.push_back(cut.wound_out_mm3);
    outcome.store_mm3.push_back(cut.store_out_mm3);
    outcome.starved_mm3.push_back(starved += cut.starved_mm3);
  }
  outcome.run_on_mm3 = std::move(line.run_on_mm3);
  outcome.backlash_mm3 = std::move(line.backlash_mm3);
}

}  // namespace meltlag::schedule
