// SPDX-License-Identifier: MIT
// Successive linearisation. Each round replaces the melt by its tangent along the last trajectory,
// which makes the run-on at the end of every free cut an unknown and everything else affine in at
// most three neighbouring unknowns; the band solver finds the least misplaced plastic of the
// tangent problem, and a step towards it is taken that truly improves the simulated figure. Rates
// stay feasible on the way because the limits are linear in them.
#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <numeric>

#include "affine.hpp"
#include "fastest_rise.hpp"
#include "meltlag/schedule/problem.hpp"
#include "meltlag/solve/band_program.hpp"
#include "response.hpp"

namespace meltlag::schedule {
namespace {

using Affine = BasicAffine<solve::row_width>;

}  // namespace

struct Optimiser::State {
  solve::BandSolver solver;
  solve::BandProgram program;
  Linearisation line, trial_line;
  std::vector<Affine> rate_of;                // per cut
  std::vector<Affine> cells;                  // per cell
  std::vector<std::uint32_t> cut_of_unknown;  // per unknown
  std::vector<double> x, target, trial, got, best;
  double reached = 0, best_value = 0;

  enum class Step : std::uint8_t { first, later };
  void read_target(Problem const& problem);
  bool search(Problem const& problem, Step step, std::vector<double> const& rates, double now);
  solve::BandInfo solve_tangent(Problem const& problem, double gap, double scale);
  enum class Line : std::uint8_t { stale, of_these_rates };
  void improve(Problem const& problem,
               OptimiseSettings const& settings,
               std::vector<double>& rates,
               Line known,
               OptimiseInfo& info);

  void build(Problem const& problem);
  void add_full_barrel(Problem const& problem, Affine const& out);
  void add_cost(CellShare const& share, Affine const& in, Affine const& rate);
  void add_cells(Problem const& problem);
  void add_limits(Problem const& problem);
  void add_outer_junctions(Problem const& problem);
  void add_junction(Affine const& before, Affine const& after, double jump, double scale);
};

// Unknown k is the run-on after the k-th free cut.
void Optimiser::State::build(Problem const& problem) {
  program.clear();
  rate_of.assign(problem.cuts.size(), {});
  cells.assign(problem.wanted_mm3.size(), {});
  cut_of_unknown.clear();
  x.clear();
  Affine in;  // run-on at the cut's entry
  in.constant = problem.start_run_on_mm3;
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
    CutResponse const& r = line.cuts[i];
    bool const free = !problem.cuts[i].fixed && r.by_rate > 1e-12;
    Affine out, rate;
    if (free) {
      auto const unknown = static_cast<std::uint32_t>(x.size());
      out.add(1, unknown);
      x.push_back(r.run_on_out_mm3);
      cut_of_unknown.push_back(static_cast<std::uint32_t>(i));
      // rate = r̄ + (out − out̄ − α·(in − in̄)) / β
      double const beta = 1 / r.by_rate;
      rate.constant = r.rate - beta * (r.run_on_out_mm3 - r.by_run_on * r.run_on_in_mm3);
      rate.add(-beta * r.by_run_on, in);
      rate.add(beta, unknown);
    } else {
      rate.constant = r.rate;
      out.constant = r.run_on_out_mm3 - r.by_run_on * r.run_on_in_mm3;
      out.add(r.by_run_on, in);
    }
    for (std::uint32_t s = r.first_share; s < r.first_share + r.shares; ++s) {
      CellShare const& share = line.shares[s];
      if (problem.wanted_mm3[share.cell] == 0) {
        add_cost(share, in, rate);
        continue;
      }
      Affine& cell = cells[share.cell];
      cell.constant += share.got_mm3 - share.by_run_on * r.run_on_in_mm3 - share.by_rate * r.rate;
      cell.add(share.by_run_on, in);
      cell.add(share.by_rate, rate);
    }
    rate_of[i] = rate;
    if (!free) add_full_barrel(problem, out);
    // In a wait the run-on runs out; an empty nozzle stays empty.
    bool const ran_out = problem.cuts[i].run_out_after && r.run_on_out_mm3 > 0;
    in = ran_out ? Affine{} : out;
  }
  program.unknowns = x.size();
  program.linear.resize(x.size(), 0.0);
  add_cells(problem);
  add_limits(problem);
  if (problem.end_run_on_mm3 && in.first != Affine::constant_only) {
    program.terms.push_back({in.row(), *problem.end_run_on_mm3 - in.constant});
  }
}

// The run-on after a free cut is bounded as an unknown; after a fixed one it takes a row.
void Optimiser::State::add_full_barrel(Problem const& problem, Affine const& out) {
  if (!std::isfinite(problem.most_run_on_mm3) || out.first == Affine::constant_only) return;
  program.ranges.push_back({out.row(),
                            -std::numeric_limits<double>::infinity(),
                            problem.most_run_on_mm3 - out.constant});
}

// Where nothing is wanted, what is got is never negative, so |got| is got: a plain cost, however
// many cuts such a cell spans.
void Optimiser::State::add_cost(CellShare const& share, Affine const& in, Affine const& rate) {
  Affine cost;
  cost.add(share.by_run_on, in);
  cost.add(share.by_rate, rate);
  if (cost.first == Affine::constant_only) return;
  program.linear.resize(x.size(), 0.0);
  for (std::size_t i = 0; i < solve::row_width; ++i) {
    if (cost.c[i] != 0) program.linear[cost.first + i] += cost.c[i];
  }
}

void Optimiser::State::add_cells(Problem const& problem) {
  for (std::size_t c = 0; c < cells.size(); ++c) {
    if (cells[c].first == Affine::constant_only) continue;
    program.terms.push_back({cells[c].row(), problem.wanted_mm3[c] - cells[c].constant});
  }
}

void Optimiser::State::add_junction(Affine const& before,
                                    Affine const& after,
                                    double jump,
                                    double scale) {
  if (!std::isfinite(jump)) return;
  Affine difference = after;
  difference.add(-1, before);
  if (difference.first == Affine::constant_only) return;
  program.ranges.push_back({difference.row(scale),
                            scale * (-jump - difference.constant),
                            scale * (jump - difference.constant)});
}

void Optimiser::State::add_limits(Problem const& problem) {
  constexpr double room_mm3 = 1e-6;
  std::size_t unknown = 0;
  FastestRise rise(problem);
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    CutResponse const& response = line.cuts[i];
    double const scale = std::max(response.by_rate, 1e-9);  // rates → mm³
    double const least = std::min(rise.after(cut, response), response.run_on_out_mm3) - room_mm3;
    if (unknown < cut_of_unknown.size() && cut_of_unknown[unknown] == i) {
      Affine const& rate = rate_of[i];
      program.ranges.push_back({rate.row(scale),
                                scale * (cut.rate_low - rate.constant),
                                scale * (cut.rate_high - rate.constant)});
      program.ranges.push_back({{static_cast<std::uint32_t>(unknown), {1, 0, 0}},
                                least < -2 * room_mm3 ? least : 0,
                                problem.most_run_on_mm3});
      ++unknown;
    }
    if (i + 1 < problem.cuts.size()) {
      double const joint = std::min(scale, std::max(line.cuts[i + 1].by_rate, 1e-9));
      add_junction(rate_of[i], rate_of[i + 1], cut.jump_to_next, joint);
    }
  }
  add_outer_junctions(problem);
}

void Optimiser::State::add_outer_junctions(Problem const& problem) {
  if (problem.cuts.empty()) return;
  Affine outer;
  if (problem.rate_before) {
    outer.constant = *problem.rate_before;
    add_junction(
        outer, rate_of.front(), problem.jump_before, std::max(line.cuts.front().by_rate, 1e-9));
  }
  if (problem.rate_after) {
    outer.constant = *problem.rate_after;
    add_junction(
        rate_of.back(), outer, problem.jump_after, std::max(line.cuts.back().by_rate, 1e-9));
  }
}

Optimiser::Optimiser() : state_(std::make_unique<State>()) {}
Optimiser::~Optimiser() = default;
Optimiser::Optimiser(Optimiser&&) noexcept = default;

namespace {

bool keeps_limits(Problem const& problem, std::vector<double> const& rates) {
  constexpr double slack = 1e-9;
  double before = problem.rate_before.value_or(0);
  double jump = problem.rate_before ? problem.jump_before : std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    bool const inside =
        cut.fixed || (rates[i] >= cut.rate_low - slack && rates[i] <= cut.rate_high + slack);
    if (!inside || std::abs(rates[i] - before) > jump + slack) return false;
    before = rates[i];
    jump = cut.jump_to_next;
  }
  return !problem.rate_after ||
         std::abs(*problem.rate_after - before) <= problem.jump_after + slack;
}

bool runs_empty(Linearisation const& line) {
  constexpr double empty_mm3 = -1e-6;
  return *std::min_element(line.run_on_mm3.begin(), line.run_on_mm3.end()) < empty_mm3;
}

bool is_linear(Problem const& problem) {
  bool const newtonian = std::all_of(problem.laws.begin(), problem.laws.end(), [](auto const& law) {
    return law.flow_index == 1.0;
  });
  return newtonian && problem.feed.play_mm == 0 && problem.feed.reverse_factor == 1;
}

}  // namespace

// The rates of the tangent problem's optimum.
void Optimiser::State::read_target(Problem const& problem) {
  target.resize(problem.cuts.size());
  for (std::size_t i = 0; i < target.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    Affine const& a = rate_of[i];
    double rate = a.constant;
    if (a.first != Affine::constant_only) {
      for (std::size_t k = 0; k < solve::row_width && a.first + k < x.size(); ++k) {
        rate += a.c[k] * x[a.first + k];
      }
    }
    target[i] = cut.fixed ? cut.rate : std::clamp(rate, cut.rate_low, cut.rate_high);
  }
}

// Goes from `rates` towards the target as far as the simulated figure falls; all the way where the
// start need not keep the limits. False where no step is better.
bool Optimiser::State::search(Problem const& problem,
                              Step step,
                              std::vector<double> const& rates,
                              double now) {
  constexpr int most_halvings = 6;
  double length = 1;
  for (int halving = 0; halving < most_halvings; ++halving, length /= 2) {
    trial = target;
    if (length < 1) {
      for (std::size_t i = 0; i < rates.size(); ++i)
        trial[i] = rates[i] + length * (target[i] - rates[i]);
    }
    linearise(problem, trial, trial_line);
    reached = misplaced(problem, trial_line, got);
    // Beyond what numbers can hold (a travel of days) the solver has no answer.
    if (std::isfinite(reached) && (step == Step::first || reached < now)) return true;
  }
  return false;
}

solve::BandInfo Optimiser::State::solve_tangent(Problem const& problem, double gap, double scale) {
  build(problem);
  if (x.empty()) return {};
  solve::BandSettings band;
  band.gap_tolerance = gap;
  band.scale = scale;
  constexpr double slack_share = 0.3;  // of what one cell wants
  band.slack_scale = slack_share * scale /
                     static_cast<double>(std::max<std::size_t>(1, problem.wanted_mm3.size()));
  solve::BandInfo const solved = solver.solve(program, band, x);
  read_target(problem);
  return solved;
}

// Rounds from `rates` on; the best rates that keep the limits are left in `rates`.
void Optimiser::State::improve(Problem const& problem,
                               OptimiseSettings const& settings,
                               std::vector<double>& rates,
                               Line known,
                               OptimiseInfo& info) {
  double const wanted = std::accumulate(problem.wanted_mm3.begin(), problem.wanted_mm3.end(), 0.0);
  double const scale = std::max(wanted, 1e-6);
  if (known == Line::stale) linearise(problem, rates, line);
  double now = misplaced(problem, line, got);
  bool const good_start = keeps_limits(problem, rates);
  best = rates;
  best_value = good_start ? now : std::numeric_limits<double>::infinity();
  info.status = OptimiseStatus::round_limit;
  bool const linear = is_linear(problem);
  for (int round = 0; round < settings.most_rounds; ++round) {
    solve::BandInfo const solved = solve_tangent(problem, settings.gap, scale);
    if (x.empty()) break;
    info.steps += solved.steps;
    ++info.rounds;
    bool const better = search(problem, round == 0 ? Step::first : Step::later, rates, now);
    bool const exact = linear && better && !runs_empty(line) && !runs_empty(trial_line);
    double const gained = now - reached;
    if (better) {
      rates = trial;
      std::swap(line, trial_line);
      now = reached;
      if (now < best_value) {
        best = rates;
        best_value = now;
      }
    }
    if (!better || exact || (round > 0 && gained < settings.improvement * scale)) {
      info.status = OptimiseStatus::solved;
      break;
    }
  }
  if (best_value < now) {
    rates = best;
    now = best_value;
  }
  info.misplaced_mm3 = now;
}

OptimiseInfo Optimiser::optimise(Problem const& problem,
                                 OptimiseSettings const& settings,
                                 std::vector<double>& rates) {
  State& s = *state_;
  OptimiseInfo info;
  bool const usable = rates.size() == problem.cuts.size() &&
                      std::ranges::all_of(rates, [](double rate) { return std::isfinite(rate); });
  if (!usable) {
    rates.clear();
    for (Cut const& cut : problem.cuts) rates.push_back(cut.rate);
  }
  std::vector<double> const start = rates;
  linearise(problem, rates, s.line);
  info.start_mm3 = misplaced(problem, s.line, s.got);
  if (problem.cuts.empty()) return info;
  bool const good_start = keeps_limits(problem, start);
  // Strongly thinning melt: by way of milder laws, else the first tangent misleads.
  double least_index = 1;
  State::Line known = State::Line::of_these_rates;
  for (auto const& law : problem.laws) least_index = std::min(least_index, law.flow_index);
  for (double const index : {0.75, 0.5}) {
    if (least_index > 0.45) break;
    Problem milder = problem;
    for (auto& law : milder.laws) law.flow_index = std::max(law.flow_index, index);
    OptimiseSettings brief = settings;
    brief.most_rounds = std::min(settings.most_rounds, 4);
    s.improve(milder, brief, rates, State::Line::stale, info);
    known = State::Line::stale;
  }
  s.improve(problem, settings, rates, known, info);
  if (good_start && info.start_mm3 <= info.misplaced_mm3) {
    rates = start;
    info.misplaced_mm3 = info.start_mm3;
    info.status = OptimiseStatus::not_better;
  }
  return info;
}

}  // namespace meltlag::schedule
