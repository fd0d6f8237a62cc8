// SPDX-License-Identifier: MIT
#include "meltlag/schedule/coarse.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::schedule {
namespace {

constexpr double same_demand = 0.03;  // of the greater one

// May one have the other's rate?
bool go_together(Cut const& a, Cut const& b) {
  return !a.fixed && !b.fixed && !a.lumps && !b.lumps && !a.run_out_after && a.law == b.law &&
         std::isfinite(a.jump_to_next);
}

bool differ(double a, double b) { return std::abs(a - b) > same_demand * std::max(a, b); }

}  // namespace

// From each cut to the nearest change.
void CoarseGrid::find_distances(Problem const& fine) {
  std::size_t const n = fine.cuts.size();
  auto const changes_behind = [&](std::size_t i) {
    return !go_together(fine.cuts[i], fine.cuts[i + 1]) ||
           differ(demand_[i].mm3_s, demand_[i + 1].mm3_s);
  };
  distance_s_.assign(n, 0.0);
  double since_s = 0;
  for (std::size_t i = 0; i < n; ++i) {
    if (i > 0 && changes_behind(i - 1)) since_s = 0;
    distance_s_[i] = since_s;
    since_s += demand_[i].duration_s;
  }
  double until_s = 0;
  for (std::size_t i = n; i-- > 0;) {
    if (i + 1 < n && changes_behind(i)) until_s = 0;
    distance_s_[i] = std::min(distance_s_[i], until_s);
    until_s += demand_[i].duration_s;
  }
}

// Takes the cut that follows `before` into the last group, where one rate serves both.
bool CoarseGrid::join(Cut const& before, Cut const& cut) {
  if (coarse_.cuts.empty() || !go_together(before, cut)) return false;
  Cut& group = coarse_.cuts.back();
  double const low = std::max(group.rate_low, cut.rate_low);
  double const high = std::min(group.rate_high, cut.rate_high);
  if (low >= high) return false;
  group.nodes += cut.nodes;
  group.rate_low = low;
  group.rate_high = high;
  group.jump_to_next = cut.jump_to_next;
  group.run_out_after = cut.run_out_after;
  return true;
}

void CoarseGrid::group_cuts(Problem const& fine, Coarseness const& coarseness) {
  first_.clear();
  coarse_.cuts.clear();
  cells_join_.clear();
  double duration_s = 0, most_s = 0, least = 0, greatest = 0;  // of the last group
  for (std::size_t i = 0; i < fine.cuts.size(); ++i) {
    double const here_s = coarseness.share_of_distance * distance_s_[i], demand = demand_[i].mm3_s;
    bool const steady = !differ(std::min(least, demand), std::max(greatest, demand));
    double const with_s = duration_s + demand_[i].duration_s, far_s = std::min(most_s, here_s);
    bool const fits = i > 0 && with_s <= std::max(far_s, coarseness.anywhere_s);
    if (fits && steady && join(fine.cuts[i - 1], fine.cuts[i])) {
      duration_s = with_s;
      most_s = far_s;
      cells_join_.back() = with_s <= far_s;
      least = std::min(least, demand);
      greatest = std::max(greatest, demand);
      continue;
    }
    first_.push_back(static_cast<std::uint32_t>(i));
    coarse_.cuts.push_back(fine.cuts[i]);
    cells_join_.push_back(demand_[i].duration_s <= here_s);
    duration_s = demand_[i].duration_s;
    most_s = here_s;
    least = greatest = demand;
  }
  first_.push_back(static_cast<std::uint32_t>(fine.cuts.size()));
}

void CoarseGrid::find_groups_of_cells(Problem const& fine) {
  constexpr std::uint32_t unseen = no_cell - 1;
  group_of_.assign(fine.wanted_mm3.size(), unseen);
  for (std::size_t g = 0; g < coarse_.cuts.size(); ++g) {
    Cut const& cut = coarse_.cuts[g];
    for (std::uint32_t n = cut.first_node; n < cut.first_node + cut.nodes; ++n) {
      if (fine.nodes[n].cell == no_cell) continue;
      std::uint32_t& group = group_of_[fine.nodes[n].cell];
      bool const own = group == unseen || group == g;
      group = own ? static_cast<std::uint32_t>(g) : no_cell;
    }
  }
  std::ranges::replace(group_of_, unseen, no_cell);
}

// Cells that lie wholly in one group become one.
void CoarseGrid::share_cells(Problem const& fine) {
  find_groups_of_cells(fine);
  coarse_.wanted_mm3.clear();
  coarse_.cell_price.clear();
  coarse_.may_lump.clear();
  new_cell_.resize(fine.wanted_mm3.size());
  for (std::size_t c = 0; c < fine.wanted_mm3.size(); ++c) {
    auto const lumps = [&](std::size_t cell) {
      return !fine.may_lump.empty() && fine.may_lump[cell];
    };
    auto const price = [&](std::size_t cell) {
      return fine.cell_price.empty() ? 1.0 : fine.cell_price[cell];
    };
    bool const joins = c > 0 && group_of_[c] != no_cell && group_of_[c] == group_of_[c - 1] &&
                       cells_join_[group_of_[c]] && !lumps(c) && !lumps(c - 1) &&
                       price(c) == price(c - 1) &&
                       (fine.wanted_mm3[c] > 0) == (fine.wanted_mm3[c - 1] > 0);
    if (joins) {
      coarse_.wanted_mm3.back() += fine.wanted_mm3[c];
    } else {
      coarse_.wanted_mm3.push_back(fine.wanted_mm3[c]);
      if (!fine.cell_price.empty()) coarse_.cell_price.push_back(fine.cell_price[c]);
      if (!fine.may_lump.empty()) coarse_.may_lump.push_back(fine.may_lump[c]);
    }
    new_cell_[c] = static_cast<std::uint32_t>(coarse_.wanted_mm3.size() - 1);
  }
}

// At a steady speed what lies in one cell is one node.
void CoarseGrid::share_nodes(Problem const& fine) {
  coarse_.nodes.clear();
  for (Cut& cut : coarse_.cuts) {
    std::uint32_t const begin = cut.first_node, end = begin + cut.nodes;
    cut.first_node = static_cast<std::uint32_t>(coarse_.nodes.size());
    for (std::uint32_t n = begin; n < end; ++n) {
      Node node = fine.nodes[n];
      if (node.cell != no_cell) node.cell = new_cell_[node.cell];
      bool const follows = coarse_.nodes.size() > cut.first_node;
      Node* const last = follows ? &coarse_.nodes.back() : nullptr;
      auto const as_last = [&](double mm_s) { return mm_s == last->start_mm_s; };
      if (follows && node.cell == last->cell && as_last(last->end_mm_s) &&
          as_last(node.start_mm_s) && as_last(node.end_mm_s)) {
        last->duration_s += node.duration_s;
      } else {
        coarse_.nodes.push_back(node);
      }
    }
    cut.nodes = static_cast<std::uint32_t>(coarse_.nodes.size()) - cut.first_node;
  }
}

Problem const& CoarseGrid::coarsen(Problem const& fine, Coarseness const& coarseness) {
  coarse_ = fine;
  demand_ = find_demand(fine);
  path_mm_.clear();
  for (Cut const& cut : fine.cuts) path_mm_.push_back(path_mm(fine, cut));
  find_distances(fine);
  group_cuts(fine, coarseness);
  share_cells(fine);
  share_nodes(fine);
  return coarse_;
}

void CoarseGrid::gather(std::vector<double> const& rates, std::vector<double>& shared) const {
  shared.clear();
  for (std::size_t g = 0; g + 1 < first_.size(); ++g) {
    double e_mm = 0, path = 0;
    for (std::uint32_t i = first_[g]; i < first_[g + 1]; ++i) {
      e_mm += path_mm_[i] * rates[i];
      path += path_mm_[i];
    }
    bool const alone = first_[g + 1] - first_[g] == 1 || path <= 0;
    shared.push_back(alone ? rates[first_[g]] : e_mm / path);
  }
}

void CoarseGrid::spread(std::vector<double> const& shared, std::vector<double>& rates) const {
  rates.resize(first_.back());
  for (std::size_t g = 0; g + 1 < first_.size(); ++g)
    std::fill(rates.begin() + first_[g], rates.begin() + first_[g + 1], shared[g]);
}

}  // namespace meltlag::schedule
