// SPDX-License-Identifier: MIT
// The screw's optimal-control problem on a fixed time grid.
//
// Time is cut into nodes; in each the head's speed is linear in time and everything that leaves the
// nozzle belongs to one cell. Consecutive nodes form a cut, which has one screw rate r (E mm per mm
// of path), so that the screw delivers u(t) = r·area·factor·v(t). Wanted is Σ over cells |got −
// wanted| least, subject to the screw's limits; the run-on W follows dW/dt = u − Q(W) − leak·W.
//
// Of a cut at which the head stands (a move of E alone) the path is E's own way as planned, so that
// its rate is the share of that way that E goes. What the screw cannot feed (melt/supply.hpp) never
// pays: the optimum asks for nothing that starves.
#pragma once

#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <vector>

#include "meltlag/melt/plant.hpp"

namespace meltlag::schedule {

inline constexpr std::uint32_t no_cell = std::numeric_limits<std::uint32_t>::max();

struct Node {
  double duration_s;
  double start_mm_s, end_mm_s;  // speed of the head along its path, ≥ 0
  std::uint32_t cell;           // what leaves the nozzle belongs here; no_cell: it counts nowhere
};

struct Cut {
  std::uint32_t first_node = 0, nodes = 0;
  std::uint32_t law = 0;       // index into Problem::laws
  bool fixed = false;          // the rate is given and stays
  bool lumps = false;          // the head stands: what leaves lies in one place
  bool run_out_after = false;  // a wait of unknown length follows: W > 0 runs out uncounted
  double rate = 0;             // E mm per mm: given when fixed, else the start value
  double rate_low = 0, rate_high = 0;
  double jump_to_next = std::numeric_limits<double>::infinity();  // |r_next − r| ≤ jump_to_next
};

struct Problem {
  std::vector<Node> nodes;
  std::vector<Cut> cuts;
  std::vector<double> wanted_mm3;  // per cell
  std::vector<melt::LagLaw> laws;
  melt::Feed feed;
  double leak_per_s = 0;
  melt::SupplyLimits supply;
  double start_wound_back_mm3 = 0;
  double start_store_mm3 = std::numeric_limits<double>::infinity();  // clamped to the store's size
  // How many times what is misplaced in a cell counts; empty: once.
  std::vector<double> cell_price;
  // Cells that what leaves at a standstill belongs to: there a lump, what is got beyond lump_from
  // times the wanted, costs lump_price more. Empty: none.
  std::vector<bool> may_lump;
  double lump_from = 1.25, lump_price = 0;
  // Price of a change of rate, as a share of the volume that it shifts: it keeps the screw calm
  // where the figure does not care.
  double calm = 0;
  double most_run_on_mm3 = std::numeric_limits<double>::infinity();
  double start_run_on_mm3 = 0;
  double start_backlash_mm3 =
      std::numeric_limits<double>::infinity();  // backlash taken up forward; clamped to
                                                // backlash_mm·area
  // The cut before the first and after the last, where their rates are already decided.
  std::optional<double> rate_before, rate_after;
  double jump_before = std::numeric_limits<double>::infinity();
  double jump_after = std::numeric_limits<double>::infinity();
  // Run-on that what follows expects; a difference counts like misplaced plastic.
  std::optional<double> end_run_on_mm3;

  void clear();
};

// How far the head goes in a cut of the problem, mm.
[[nodiscard]] double path_mm(Problem const& problem, Cut const& cut);

// What a sequence of rates does.
struct Outcome {
  std::vector<double> got_mm3;       // per cell
  std::vector<double> run_on_mm3;    // at the start of each cut, and at the end: cuts + 1
  double misplaced_mm3 = 0;          // Σ |got − wanted|, no price on it
  std::vector<double> backlash_mm3;  // backlash position after each cut
  // Wound back and ready after each cut, and what was turned in vain up to there.
  std::vector<double> wound_back_mm3, store_mm3, starved_mm3;
};

// Follows the rates through the melt: closed form for n = 1, small Runge–Kutta steps otherwise.
void simulate(Problem const& problem, std::vector<double> const& rates, Outcome& outcome);

struct OptimiseSettings {
  double gap = 5e-5;  // duality gap of each linearised problem ≤ gap · Σ wanted
  // Of the first rounds: their tangents are far from where they lead and need not be solved
  // closely.
  double early_gap = 2e-4;
  int most_rounds = 24;  // linearisations at the most; n = 1 without backlash takes one
  // Stop when a round, or all that may be expected to follow it, improve misplaced by less than
  // this share of Σ wanted; coarser, windows of other sizes end at other figures.
  double improvement = 1e-4;
  // For long files. Takes the gain to come for less than it may be: the first round may start
  // anywhere and should count for nothing, but where it counts fewer rounds lose up to 0.06 point
  // of misplaced plastic on the real files tried. Leaves limits that are far away out of the rounds
  // after the first. And with Newtonian melt the first round only finds out which rows hold, and
  // how much later ones gain is learnt from the problems before.
  bool sparing = false;
};

enum class OptimiseStatus : std::uint8_t {
  solved,
  round_limit,  // most_rounds reached while still improving
  not_better,   // the given rates keep the limits and nothing better was found: they are returned
};

struct OptimiseInfo {
  OptimiseStatus status = OptimiseStatus::not_better;
  int rounds = 0, steps = 0;
  // Σ price·|got − wanted| of the start and of the result, with what calm costs; simulated.
  double start_mm3 = 0, misplaced_mm3 = 0;
};

// Finds rates for all cuts. `rates` receives one rate per cut; every limit of the problem holds for
// them unless it could not be met together with rate_before/rate_after.
class Optimiser {
 public:
  Optimiser();
  ~Optimiser();
  Optimiser(Optimiser&&) noexcept;
  OptimiseInfo optimise(Problem const& problem,
                        OptimiseSettings const& settings,
                        std::vector<double>& rates);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace meltlag::schedule
