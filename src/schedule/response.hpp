// SPDX-License-Identifier: MIT
// How a cut answers to its rate: run-on at its end, what each of its cells gets, and both
// derivatives.
#pragma once

#include <cstdint>
#include <vector>

#include "meltlag/schedule/problem.hpp"

namespace meltlag::schedule {

// What one cut gives to one cell.
struct CellShare {
  std::uint32_t cell;
  double got_mm3;
  double by_run_on;  // d got / d run-on at the cut's start
  double by_rate;    // d got / d rate
};

struct CutResponse {
  double run_on_in_mm3;  // where it was linearised
  double rate;
  double run_on_out_mm3;
  double by_run_on;  // d out / d in
  double by_rate;    // d out / d rate
  std::uint32_t first_share, shares;
  // What the screw can do on the way: before and after the cut.
  double wound_in_mm3 = 0, store_in_mm3 = 0, wound_out_mm3 = 0, store_out_mm3 = 0;
  double starved_mm3 = 0;      // of this cut
  double volume_per_rate = 0;  // what one unit of rate would deliver, nothing lost
  double lost_mm3 = 0;         // to backlash
  double duration_s = 0, peak_per_rate_mm3_s = 0, last_per_rate_mm3_s = 0;
  double fresh_s = 0;  // of its time, nothing wound back being left
  double rate_asked = 0;
  // Delivered up to the last moment that is faster than what is fed for long.
  double fast_mm3 = 0;
};

// A node's result as a function of run-on at its start and of the delivered volume rates.
struct NodeResult {
  double run_on_mm3, got_mm3;
  double run_on_by_run_on, run_on_by_rate;
  double got_by_run_on, got_by_rate;
  // By the logarithm of its duration, what is delivered in it staying the same.
  double run_on_by_stretch, got_by_stretch;
};

// Constants of one lag law that every node needs.
struct LawConstants {
  double run_on_mm3, at_flow_mm3_s, inverse_index;
  double loss_per_s;    // n = 1: 1/τ + leak
  double nozzle_share;  // n = 1: share of the loss that leaves through the nozzle
  double leak_per_s;
  bool linear;
};
[[nodiscard]] LawConstants constants(melt::LagLaw const& law, double leak_per_s);

// By what results are differentiated; what is not asked for may be 0.
enum class Slopes : std::uint8_t { rates, rates_and_durations };

// `u0`, `u1`: delivered volume per second per unit of rate at both ends of the node; `lost_mm3`:
// delivered volume that backlash swallows in this node.
[[nodiscard]] NodeResult step(LawConstants const& law,
                              double duration_s,
                              double run_on_mm3,
                              double rate,
                              double u0,
                              double u1,
                              double lost_mm3,
                              Slopes slopes);

// A cut whose rate asks for more than the screw feeds is linearised at the rate that delivers what
// it feeds. Responses of all cuts along the trajectory that starts at problem.start_run_on_mm3 and
// follows `rates`; where `run_on_mm3` (cuts + 1) is given, each cut is linearised at its entry
// instead.
struct Linearisation {
  std::vector<CutResponse> cuts;
  std::vector<CellShare> shares;
  // Derivatives by the logarithm of each cut's duration, its path and rate kept: of the run-on at
  // its end, and of what it gives to each cell. Empty unless asked for.
  std::vector<double> out_by_stretch, share_by_stretch;
  std::vector<double> run_on_mm3;    // of the trajectory, cuts + 1
  std::vector<double> backlash_mm3;  // backlash position after each cut
};
void linearise(Problem const& problem,
               std::vector<double> const& rates,
               Linearisation& result,
               Slopes slopes = Slopes::rates);

// The cut's upper bound of rate where nothing tells what the screw has left: no more than it feeds
// for long, or than it turns already.
[[nodiscard]] double fed_rate_high(Problem const& problem, Cut const& cut, CutResponse const& r);

// Does a lump in the cell have its price?
[[nodiscard]] bool lumps(Problem const& problem, std::size_t cell);
// Does a change of rate from cut i to the next one have its price?
[[nodiscard]] bool is_calmed(Problem const& problem, std::size_t i);

// Σ price·|got − wanted|, with a difference from the wanted end, an overfull barrel and changes of
// rate counted too. `got` receives what each cell gets.
[[nodiscard]] double misplaced(Problem const& problem,
                               Linearisation const& line,
                               std::vector<double>& got);

}  // namespace meltlag::schedule
