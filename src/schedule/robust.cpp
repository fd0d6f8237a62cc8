// SPDX-License-Identifier: MIT
// As in the schedule for one plant, run-on after each cut is the unknown, now one of every
// scenario's. The first scenario's tells the rate; that the others follow the same rate is an
// equation of theirs, held by a stiff spring, which keeps the problem banded. Afterwards only the
// rates are taken, and simulated, so that the spring leaves no trace. That gives a direction; how
// far to go along it is found by simulating more plants.
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
constexpr int most_rounds = 3;
constexpr double least_gain = 3e-4;  // of what is wanted
constexpr std::size_t first_judge = direction_count * scenario_count;
constexpr double lengths[] = {1, 0.6, 0.36};  // of the longest step that is allowed

using Lines = std::array<Linearisation, scenario_count>;

}  // namespace

struct RobustOptimiser::State {
  solve::BasicBandSolver<width> solver;
  solve::BasicBandProgram<width> program;
  std::array<Problem, scenario_count> problems;
  Scenarios scenarios;
  Plants plants;
  RunOns start_run_on_mm3{};
  Problem judged;
  Lines lines;
  Linearisation judge_line;
  std::vector<Affine> rate_of;  // per cut
  std::array<std::vector<Affine>, scenario_count> cells;
  std::vector<double> x, got, target, trial, best;

  void aim(Problem const& problem, std::size_t direction, std::vector<double> const& rates);
  void go(std::vector<double> const& rates, double length);
  double longest_step(Problem const& problem, std::vector<double> const& rates, double allowed);
  double expected(std::vector<double> const& rates);
  double as_believed(Problem const& problem, std::vector<double> const& rates);
  void build();
  void add_cut(std::size_t i, std::array<Affine, scenario_count>& run_on);
  void add_shares(std::size_t s, std::size_t i, Affine const& in);
  void add_spring(Affine const& difference);
  void add_rows();
  void add_range(Affine const& value, double low, double high, double scale);
  void read_target(std::vector<double> const& rates);
};

// Mean over the judges.
double RobustOptimiser::State::expected(std::vector<double> const& rates) {
  auto const believed = judged.laws;
  double sum = 0;
  for (std::size_t k = first_judge; k < plant_count; ++k) {
    judged.start_run_on_mm3 = start_run_on_mm3[k];
    for (std::size_t l = 0; l < believed.size(); ++l)
      judged.laws[l] = law_in(plants[k], believed[l]);
    linearise(judged, rates, judge_line);
    sum += plants[k].weight * misplaced(judged, judge_line, got);
  }
  judged.laws = believed;
  return sum;
}

double RobustOptimiser::State::as_believed(Problem const& problem,
                                           std::vector<double> const& rates) {
  linearise(problem, rates, judge_line);
  return misplaced(problem, judge_line, got);
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
      Affine& cell = cells[s][share.cell];
      if (cell.fits(given)) {
        cell.add(1, given);
      } else {
        cell.constant += share.got_mm3;
      }
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
    if (!cut.fixed)
      add_range(rate_of[i], cut.rate_low, fed_rate_high(problem, cut, lines[0].cuts[i]), scale);
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

// The rates that would be best for one direction's four plants, by their tangents.
void RobustOptimiser::State::aim(Problem const& problem,
                                 std::size_t direction,
                                 std::vector<double> const& rates) {
  for (std::size_t k = 0; k < scenario_count; ++k) {
    std::size_t const plant = direction * scenario_count + k;
    scenarios[k] = plants[plant];
    problems[k] = problem;
    problems[k].start_run_on_mm3 = start_run_on_mm3[plant];
    for (auto& law : problems[k].laws) law = law_in(scenarios[k], law);
    problems[k].most_run_on_mm3 = infinity;
    linearise(problems[k], rates, lines[k]);
  }
  build();
  double const wanted = std::accumulate(problem.wanted_mm3.begin(), problem.wanted_mm3.end(), 0.0);
  solve::BandSettings band;
  band.gap_tolerance = 5e-4;
  band.residual_tolerance = 1e-6;
  band.scale = std::max(wanted, 1e-6);
  band.slack_scale =
      0.3 * band.scale / static_cast<double>(std::max<std::size_t>(1, problem.wanted_mm3.size()));
  if (!x.empty()) solver.solve(program, band, x);
  read_target(rates);
}

void RobustOptimiser::State::go(std::vector<double> const& rates, double length) {
  trial = rates;
  for (std::size_t i = 0; i < rates.size(); ++i) trial[i] += length * (target[i] - rates[i]);
}

// Towards the target, misplacing no more than `allowed` as believed.
double RobustOptimiser::State::longest_step(Problem const& problem,
                                            std::vector<double> const& rates,
                                            double allowed) {
  constexpr int halvings = 6;
  go(rates, 1);
  if (as_believed(problem, trial) <= allowed) return 1;
  double in = 0, out = 1;
  for (int i = 0; i < halvings; ++i) {
    double const middle = (in + out) / 2;
    go(rates, middle);
    (as_believed(problem, trial) <= allowed ? in : out) = middle;
  }
  return in;
}

RobustInfo RobustOptimiser::improve(Problem const& problem,
                                    Plants const& plants,
                                    RunOns const& start_run_on_mm3,
                                    double centre_loss,
                                    std::vector<double>& rates) {
  State& s = *state_;
  RobustInfo info;
  s.plants = plants;
  s.start_run_on_mm3 = start_run_on_mm3;
  s.judged = problem;
  s.judged.most_run_on_mm3 = infinity;
  info.centre_start_mm3 = s.as_believed(problem, rates);
  info.start_mm3 = info.expected_mm3 = s.expected(rates);
  double const allowed = (1 + centre_loss) * info.centre_start_mm3;
  double const wanted = std::accumulate(problem.wanted_mm3.begin(), problem.wanted_mm3.end(), 0.0);
  for (; info.rounds < most_rounds; ++info.rounds) {
    double reached = info.expected_mm3;
    for (std::size_t direction = 0; direction < direction_count; ++direction) {
      s.aim(problem, direction, rates);
      double const longest = s.longest_step(problem, rates, allowed);
      if (longest <= 0) continue;
      for (double const share : lengths) {
        s.go(rates, share * longest);
        double const mean = s.expected(s.trial);
        if (mean >= reached) continue;
        reached = mean;
        s.best = s.trial;
      }
    }
    double const gained = info.expected_mm3 - reached;
    if (!(gained > 0)) break;
    rates = s.best;
    info.expected_mm3 = reached;
    if (gained < least_gain * wanted) break;
  }
  info.centre_mm3 = s.as_believed(problem, rates);
  return info;
}

}  // namespace meltlag::schedule
