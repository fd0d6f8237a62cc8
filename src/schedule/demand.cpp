// SPDX-License-Identifier: MIT
#include "meltlag/schedule/demand.hpp"

namespace meltlag::schedule {

std::vector<CutDemand> find_demand(Problem const& problem) {
  std::vector<double> cell_s(problem.wanted_mm3.size(), 0.0);
  for (Node const& node : problem.nodes)
    if (node.cell != no_cell) cell_s[node.cell] += node.duration_s;
  std::vector<CutDemand> out;
  out.reserve(problem.cuts.size());
  for (Cut const& cut : problem.cuts) {
    CutDemand& demand = out.emplace_back();
    double wanted = 0;
    for (std::uint32_t n = cut.first_node; n < cut.first_node + cut.nodes; ++n) {
      Node const& node = problem.nodes[n];
      demand.duration_s += node.duration_s;
      if (node.cell != no_cell && cell_s[node.cell] > 0)
        wanted += problem.wanted_mm3[node.cell] * node.duration_s / cell_s[node.cell];
    }
    if (demand.duration_s > 0) demand.mm3_s = wanted / demand.duration_s;
  }
  return out;
}

}  // namespace meltlag::schedule
