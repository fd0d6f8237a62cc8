// SPDX-License-Identifier: MIT
// As in the schedule for one plant, run-on after each cut is the unknown, now one of every
// scenario's. The first scenario's tells the rate; that the others follow the same rate is an
// equation of theirs, held by a stiff spring, which keeps the problem banded. Afterwards only the
// rates are taken, and simulated, so that the spring leaves no trace.
#include "meltlag/schedule/robust.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "affine.hpp"
#include "fastest_rise.hpp"
#include "meltlag/solve/band_program.hpp"
#include "response.hpp"

namespace meltlag::schedule {
namespace {

constexpr std::size_t width = solve::widest_row_width;
using Affine = BasicAffine<width>;
constexpr double spring_per_mm3 = 2e4;
constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr int most_rounds = 8;
constexpr double least_gain = 3e-4;  // of what is wanted

using Lines = std::array<Linearisation, scenario_count>;

}  // namespace

Scenarios scenarios_of(LagSpread const& spread) {
  // Middles of four equally likely bands, widened to a deviation of 1; each of them once for S and
  // once for n, uncorrelated.
  constexpr double outer = 1.36, inner = 0.38;
  constexpr std::array<double, scenario_count> of_run_on{-outer, -inner, inner, outer};
  constexpr std::array<double, scenario_count> of_index{-inner, outer, -outer, inner};
  double const rest = std::sqrt(std::max(0.0, 1 - spread.correlation * spread.correlation));
  Scenarios out;
  for (std::size_t i = 0; i < scenario_count; ++i) {
    out[i] = {std::exp(spread.run_on_share_sd * of_run_on[i]),
              spread.flow_index_sd * (spread.correlation * of_run_on[i] + rest * of_index[i]),
              1.0 / scenario_count};
  }
  return out;
}

melt::LagLaw law_in(Scenario const& scenario, melt::LagLaw const& believed) {
  constexpr double least_index = 0.15, greatest_index = 1.5;
  melt::LagLaw law = believed;
  law.run_on_mm3 *= scenario.run_on_factor;
  if (scenario.flow_index_shift != 0) {
    law.flow_index =
        std::clamp(law.flow_index + scenario.flow_index_shift, least_index, greatest_index);
  }
  return law;
}

struct RobustOptimiser::State {
  solve::BasicBandSolver<width> solver;
  solve::BasicBandProgram<width> program;
  std::array<Problem, scenario_count> problems;
  Scenarios scenarios;
  Lines lines, trial_lines;
  std::vector<Affine> rate_of;  // per cut
  std::array<std::vector<Affine>, scenario_count> cells;
  std::vector<double> x, got, target, trial;

  // Mean over the scenarios.
  double simulate(std::vector<double> const& rates, Lines& into);
  void build();
  void add_cut(std::size_t i, std::array<Affine, scenario_count>& run_on);
  void add_shares(std::size_t s, std::size_t i, Affine const& in);
  void add_spring(Affine const& difference);
  void add_rows();
  void add_range(Affine const& value, double low, double high, double scale);
  void read_target(std::vector<double> const& rates);
};

double RobustOptimiser::State::simulate(std::vector<double> const& rates, Lines& into) {
  double sum = 0;
  for (std::size_t s = 0; s < scenario_count; ++s) {
    linearise(problems[s], rates, into[s]);
    sum += scenarios[s].weight * misplaced(problems[s], into[s], got);
  }
  return sum;
}

void RobustOptimiser::State::add_spring(Affine const& difference) {
  if (difference.first == Affine::constant_only) return;
  program.curvature.resize(x.size() + width, {});
  program.linear.resize(x.size() + width, 0.0);
  for (std::size_t a = 0; a < width; ++a) {
    std::size_t const at = difference.first + a;
    program.linear[at] += spring_per_mm3 * difference.c[a] * difference.constant;
    for (std::size_t b = a; b < width; ++b)
      program.curvature[at][b - a] += spring_per_mm3 * difference.c[a] * difference.c[b];
  }
}

void RobustOptimiser::State::add_cut(std::size_t i, std::array<Affine, scenario_count>& run_on) {
  Cut const& cut = problems[0].cuts[i];
  bool const free = !cut.fixed && lines[0].cuts[i].by_rate > 1e-12;
  Affine rate;
  rate.constant = lines[0].cuts[i].rate;
  std::array<Affine, scenario_count> out;
  for (std::size_t s = 0; s < scenario_count; ++s) {
    CutResponse const& r = lines[s].cuts[i];
    double const rest = r.run_on_out_mm3 - r.by_run_on * r.run_on_in_mm3;
    if (!free) {
      out[s].constant = rest;
      out[s].add(r.by_run_on, run_on[s]);
      continue;
    }
    auto const unknown = static_cast<std::uint32_t>(x.size());
    x.push_back(r.run_on_out_mm3);
    out[s].add(1, unknown);
    if (s == 0) {
      double const beta = 1 / r.by_rate;
      rate.constant = r.rate - beta * rest;
      rate.add(-beta * r.by_run_on, run_on[0]);
      rate.add(beta, unknown);
      continue;
    }
    Affine difference;
    difference.constant = rest - r.by_rate * r.rate;
    difference.add(r.by_run_on, run_on[s]);
    difference.add(r.by_rate, rate);
    difference.add(-1, unknown);
    add_spring(difference);
  }
  rate_of[i] = rate;
  for (std::size_t s = 0; s < scenario_count; ++s) {
    add_shares(s, i, run_on[s]);
    double const least = std::min(0.0, lines[s].cuts[i].run_on_out_mm3) - 1e-6;
    if (free) add_range(out[s], least, infinity, 1);
    bool const ran_out = cut.run_out_after && lines[s].cuts[i].run_on_out_mm3 > 0;
    run_on[s] = ran_out ? Affine{} : out[s];
  }
}

void RobustOptimiser::State::add_shares(std::size_t s, std::size_t i, Affine const& in) {
  CutResponse const& r = lines[s].cuts[i];
  for (std::uint32_t k = r.first_share; k < r.first_share + r.shares; ++k) {
    CellShare const& share = lines[s].shares[k];
    Affine given;
    given.constant = share.got_mm3 - share.by_run_on * r.run_on_in_mm3 - share.by_rate * r.rate;
    given.add(share.by_run_on, in);
    given.add(share.by_rate, rate_of[i]);
    if (problems[s].wanted_mm3[share.cell] != 0) {
      cells[s][share.cell].add(1, given);
    } else if (given.first != Affine::constant_only) {
      program.linear.resize(x.size() + width, 0.0);
      for (std::size_t a = 0; a < width; ++a)
        program.linear[given.first + a] += scenarios[s].weight * given.c[a];
    }
  }
}

void RobustOptimiser::State::add_range(Affine const& value, double low, double high, double scale) {
  if (value.first == Affine::constant_only || (std::isinf(low) && std::isinf(high))) return;
  program.ranges.push_back(
      {value.row(scale), scale * (low - value.constant), scale * (high - value.constant)});
}

void RobustOptimiser::State::add_rows() {
  Problem const& problem = problems[0];
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    double const scale = std::max(lines[0].cuts[i].by_rate, 1e-9);
    if (!cut.fixed) add_range(rate_of[i], cut.rate_low, cut.rate_high, scale);
    if (i == 0 && problem.rate_before && std::isfinite(problem.jump_before)) {
      double const before = *problem.rate_before;
      add_range(rate_of[0], before - problem.jump_before, before + problem.jump_before, scale);
    }
    if (i + 1 == problem.cuts.size() || !std::isfinite(cut.jump_to_next)) continue;
    Affine change = rate_of[i + 1];
    change.add(-1, rate_of[i]);
    double const joint = std::min(scale, std::max(lines[0].cuts[i + 1].by_rate, 1e-9));
    add_range(change, -cut.jump_to_next, cut.jump_to_next, joint);
  }
}

void RobustOptimiser::State::build() {
  program.clear();
  x.clear();
  rate_of.assign(problems[0].cuts.size(), {});
  std::array<Affine, scenario_count> run_on;
  for (std::size_t s = 0; s < scenario_count; ++s) {
    cells[s].assign(problems[s].wanted_mm3.size(), {});
    run_on[s].constant = problems[s].start_run_on_mm3;
  }
  for (std::size_t i = 0; i < problems[0].cuts.size(); ++i) add_cut(i, run_on);
  program.unknowns = x.size();
  program.linear.resize(x.size(), 0.0);
  program.curvature.resize(x.size(), {});
  for (std::size_t s = 0; s < scenario_count; ++s) {
    double const w = scenarios[s].weight;
    for (std::size_t c = 0; c < cells[s].size(); ++c) {
      if (cells[s][c].first == Affine::constant_only) continue;
      program.terms.push_back(
          {cells[s][c].row(w), w * (problems[s].wanted_mm3[c] - cells[s][c].constant)});
    }
  }
  add_rows();
}

void RobustOptimiser::State::read_target(std::vector<double> const& rates) {
  target = rates;
  for (std::size_t i = 0; i < target.size(); ++i) {
    Cut const& cut = problems[0].cuts[i];
    Affine const& a = rate_of[i];
    if (cut.fixed || a.first == Affine::constant_only) continue;
    double rate = a.constant;
    for (std::size_t k = 0; k < width && a.first + k < x.size(); ++k)
      rate += a.c[k] * x[a.first + k];
    target[i] = std::clamp(rate, cut.rate_low, cut.rate_high);
  }
}

RobustOptimiser::RobustOptimiser() : state_(std::make_unique<State>()) {}
RobustOptimiser::~RobustOptimiser() = default;
RobustOptimiser::RobustOptimiser(RobustOptimiser&&) noexcept = default;

RobustInfo RobustOptimiser::improve(Problem const& problem,
                                    Scenarios const& scenarios,
                                    RunOns const& start_run_on_mm3,
                                    CentreLoss const& loss,
                                    std::vector<double>& rates) {
  State& s = *state_;
  RobustInfo info;
  s.scenarios = scenarios;
  for (std::size_t k = 0; k < scenario_count; ++k) {
    s.problems[k] = problem;
    s.problems[k].start_run_on_mm3 = start_run_on_mm3[k];
    for (auto& law : s.problems[k].laws) law = law_in(scenarios[k], law);
    s.problems[k].most_run_on_mm3 = infinity;
  }
  Outcome believed;
  simulate(problem, rates, believed);
  double centre = believed.misplaced_mm3;
  double now = s.simulate(rates, s.lines);
  info.start_mm3 = info.expected_mm3 = now;
  info.centre_start_mm3 = info.centre_mm3 = centre;
  double const wanted = std::accumulate(problem.wanted_mm3.begin(), problem.wanted_mm3.end(), 0.0);
  double const scale = std::max(wanted, 1e-6);
  double const allowed = centre + std::max(loss.of_centre * centre, loss.of_wanted * scale);
  solve::BandSettings band;
  band.gap_tolerance = 5e-4;
  band.residual_tolerance = 1e-6;
  band.scale = scale;
  band.slack_scale =
      0.3 * scale / static_cast<double>(std::max<std::size_t>(1, problem.wanted_mm3.size()));
  for (; info.rounds < most_rounds; ++info.rounds) {
    s.build();
    if (s.x.empty()) break;
    s.solver.solve(s.program, band, s.x);
    s.read_target(rates);
    bool better = false;
    double reached = now;
    for (double length = 1; length > 0.05 && !better; length *= 0.6) {
      s.trial = rates;
      for (std::size_t i = 0; i < rates.size(); ++i)
        s.trial[i] += length * (s.target[i] - rates[i]);
      reached = s.simulate(s.trial, s.trial_lines);
      simulate(problem, s.trial, believed);
      centre = believed.misplaced_mm3;
      better = reached < now && centre <= allowed;
    }
    if (!better) break;
    rates = s.trial;
    std::swap(s.lines, s.trial_lines);
    double const gained = now - reached;
    now = info.expected_mm3 = reached;
    info.centre_mm3 = centre;
    if (gained < least_gain * scale) break;
  }
  return info;
}

RunOns run_ons_at(Problem const& problem,
                  Scenarios const& scenarios,
                  RunOns const& start_run_on_mm3,
                  std::vector<double> const& rates,
                  std::size_t cut) {
  RunOns out{};
  for (std::size_t k = 0; k < scenario_count; ++k) {
    Problem own = problem;
    own.start_run_on_mm3 = start_run_on_mm3[k];
    for (auto& law : own.laws) law = law_in(scenarios[k], law);
    Outcome outcome;
    simulate(own, rates, outcome);
    out[k] = outcome.run_on_mm3[cut];
  }
  return out;
}

}  // namespace meltlag::schedule
