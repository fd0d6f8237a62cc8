// SPDX-License-Identifier: MIT
// The same problem with fewer unknowns: far from any change of what is wanted neighbouring cuts
// share one rate, and what lies in one such group counts as one cell.
#pragma once

#include <cstdint>
#include <vector>

#include "meltlag/schedule/demand.hpp"
#include "meltlag/schedule/problem.hpp"

namespace meltlag::schedule {

// How long a group of cuts may be.
struct Coarseness {
  // As a share of the time from it to the nearest change of what is wanted each second, to a cut
  // whose rate is given or to a halt; ≥ 0.
  double share_of_distance = 0;
  double anywhere_s = 0;  // beside such a change
};

class CoarseGrid {
 public:
  // Groups the cuts of `fine`. What keeps the result's limits keeps those of `fine`; the result
  // lives until the next call.
  Problem const& coarsen(Problem const& fine, Coarseness const& coarseness);
  // The rates of the groups (E mm per mm, means over their paths) from those of the cuts, and back.
  void gather(std::vector<double> const& rates, std::vector<double>& shared) const;
  void spread(std::vector<double> const& shared, std::vector<double>& rates) const;

 private:
  void find_distances(Problem const& fine);
  void group_cuts(Problem const& fine, Coarseness const& coarseness);
  bool join(Cut const& before, Cut const& cut);
  void find_groups_of_cells(Problem const& fine);
  void share_cells(Problem const& fine);
  void share_nodes(Problem const& fine);

  Problem coarse_;
  std::vector<std::uint32_t> first_;          // cut of each group, and how many cuts there are
  std::vector<double> path_mm_, distance_s_;  // per cut
  std::vector<CutDemand> demand_;             // per cut
  std::vector<bool> cells_join_;              // per group: far enough from any change
  std::vector<std::uint32_t> group_of_;       // of each cell; no_cell: it lies in several
  std::vector<std::uint32_t> new_cell_;       // of each cell
};

}  // namespace meltlag::schedule
