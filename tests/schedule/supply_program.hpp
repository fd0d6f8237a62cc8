// SPDX-License-Identifier: MIT
// The schedule problem for n = 1 with what the screw can feed, as a linear program: which nodes
// give again what was wound back and which feed fresh melt is taken from given rates; then the rule
// is linear, and it holds at every node.
#pragma once

#include <algorithm>
#include <utility>
#include <vector>

#include "schedule/written_down.hpp"

namespace meltlag_test {

using meltlag::melt::Supply;

// What the screw has before and after a node, by the plant.
struct NodeSupply {
  double wound_in_mm3, wound_out_mm3, store_out_mm3;
  double start_mm3_s, end_mm3_s;  // asked for
};

inline std::vector<NodeSupply> supply_along(Problem const& problem,
                                            std::vector<double> const& rates) {
  Supply supply(problem.supply);
  supply.set(problem.start_wound_back_mm3, problem.start_store_mm3);
  std::vector<NodeSupply> result;
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    double const gain = filament_mm2 * problem.feed.delivered_factor * rates[i] *
                        (rates[i] < 0 ? problem.feed.reverse_factor : 1);
    for (std::uint32_t j = cut.first_node; j < cut.first_node + cut.nodes; ++j) {
      Node const& node = problem.nodes[j];
      NodeSupply s{supply.wound_back_mm3(), 0, 0, gain * node.start_mm_s, gain * node.end_mm_s};
      supply.feed({node.duration_s, s.start_mm3_s, s.end_mm3_s}, [](auto const&) {});
      s.wound_out_mm3 = supply.wound_back_mm3();
      s.store_out_mm3 = supply.store_mm3();
      result.push_back(s);
    }
    if (cut.run_out_after) supply.wait();
  }
  return result;
}

// How a node is fed.
enum class Feeding { wound_back, last_of_it, fresh };

inline std::vector<Feeding> order_of_use(Problem const& problem, std::vector<double> const& rates) {
  constexpr double nothing_mm3 = 1e-7;
  double const q = problem.supply.max_flow_mm3_s;
  std::vector<Feeding> result;
  for (NodeSupply const& s : supply_along(problem, rates)) {
    bool const back = s.start_mm3_s < 0 || s.end_mm3_s < 0 || s.wound_out_mm3 > nothing_mm3;
    bool const had = s.wound_in_mm3 > nothing_mm3;
    bool const fast = std::max(s.start_mm3_s, s.end_mm3_s) > q;
    // Faster than what is fed for long, a node without a store after it ends where D does.
    bool const ends_with_it = had && fast && problem.supply.burst_mm3 == 0;
    result.push_back(back || ends_with_it ? Feeding::wound_back
                     : had                ? Feeding::last_of_it
                                          : Feeding::fresh);
  }
  return result;
}

// Columns for what is wound back and what stands ready, node by node.
class SupplyRows {
 public:
  SupplyRows(Problem const& problem, std::vector<double> const& rates, LinearProgram& program)
      : problem_(problem), order_(order_of_use(problem, rates)), program_(program) {
    Lp& lp = program_.lp;
    double const b = problem.supply.burst_mm3;
    double const store = std::min(b, problem.start_store_mm3);
    wound_ = lp.add_column(0, problem.start_wound_back_mm3, problem.start_wound_back_mm3);
    store_ = lp.add_column(0, store, store);
    for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
      Cut const& cut = problem.cuts[i];
      for (std::uint32_t j = cut.first_node; j < cut.first_node + cut.nodes; ++j) add(i, j);
      if (cut.run_out_after) store_ = lp.add_column(0, b, b);
    }
  }

 private:
  void add(std::size_t i, std::uint32_t j) {
    Lp& lp = program_.lp;
    Node const& node = problem_.nodes[j];
    double const q = problem_.supply.max_flow_mm3_s, b = problem_.supply.burst_mm3;
    double const gain = filament_mm2 * problem_.feed.delivered_factor;
    double const volume = gain * node.duration_s * (node.start_mm_s + node.end_mm_s) / 2;
    int const rate = program_.rate_columns[i];
    int const store = b > 0 ? lp.add_column(0, 0, b) : -1;
    if (order_[j] == Feeding::wound_back) {
      // Discarding some of D is allowed, and never pays.
      int const wound = lp.add_column(0, 0, infinity);
      lp.add_row(-infinity, 0, {{wound, 1}, {wound_, -1}, {rate, volume}});
      if (b > 0) lp.add_row(-infinity, q * node.duration_s, {{store, 1}, {store_, -1}});
      wound_ = wound;
    } else {
      std::vector<std::pair<int, double>> draw{{rate, volume}};
      if (order_[j] == Feeding::last_of_it) draw.emplace_back(wound_, -1);
      if (b > 0) draw.insert(draw.end(), {{store, 1}, {store_, -1}});
      lp.add_row(-infinity, q * node.duration_s, draw);
      double const peak = gain * std::max(node.start_mm_s, node.end_mm_s);
      if (b == 0 && peak > 0) lp.add_row(-infinity, q / peak, {{rate, 1}});
      wound_ = lp.add_column(0, 0, 0);
    }
    store_ = store;
  }

  Problem const& problem_;
  std::vector<Feeding> order_;
  LinearProgram& program_;
  int wound_, store_;
};

// The least Σ |got − wanted| with the order of use that `rates` have.
inline LinearProgram write_down_supplied(Problem const& problem, std::vector<double> const& rates) {
  LinearProgram program = write_down(problem, {{problem.laws[0], 1}});
  SupplyRows(problem, rates, program);
  return program;
}

}  // namespace meltlag_test
