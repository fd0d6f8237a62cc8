// SPDX-License-Identifier: MIT
#include "meltlag/schedule/pace.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numeric>

#include "affine.hpp"
#include "fastest_rise.hpp"
#include "meltlag/solve/band_program.hpp"
#include "response.hpp"

namespace meltlag::schedule {
namespace {

using Affine = BasicAffine<solve::wide_row_width>;
constexpr double infinity = std::numeric_limits<double>::infinity();
// Of rows that are shares, against those in mm³: all z begin at a bound, and from slacks as small
// as a cell's volume the solver would take half as many steps again.
constexpr double scale_of_shares = 0.05;

}  // namespace

struct PaceTangent::State {
  solve::BasicBandSolver<solve::wide_row_width> solver;
  solve::BasicBandProgram<solve::wide_row_width> program;
  Linearisation line;
  std::vector<Affine> rate_of, stretch_of, run_on_of;  // per cut
  std::vector<Affine> cells;
  std::vector<double> x;

  void build(Problem const& problem, std::vector<DurationBounds> const& bounds, double price);
  std::uint32_t new_unknown(double start);
  void add_cut(Problem const& problem, DurationBounds const& bounds, std::size_t i, Affine& run_on);
  void add_shares(Problem const& problem, std::size_t i, Affine const& in);
  void add_cost(Affine const& cost);
  void add_times(std::vector<DurationBounds> const& bounds, double price);
  void add_rows(Problem const& problem, std::vector<DurationBounds> const& bounds);
  void add_range(Affine const& value, double low, double high, double scale);
  void add_junction(Affine const& before, Affine const& after, Affine const& jump, double scale);
  void add_speed_change(DurationBounds const& a, DurationBounds const& b, std::size_t i);
  [[nodiscard]] double value(Affine const& a) const;
};

std::uint32_t PaceTangent::State::new_unknown(double start) {
  x.push_back(start);
  return static_cast<std::uint32_t>(x.size() - 1);
}

// In this order, so that a cut's rate depends on three neighbours: run-on before, z, run-on after.
void PaceTangent::State::add_cut(Problem const& problem,
                                 DurationBounds const& bounds,
                                 std::size_t i,
                                 Affine& run_on) {
  CutResponse const& r = line.cuts[i];
  double const by_stretch = line.out_by_stretch[i];
  bool const free = !problem.cuts[i].fixed && r.by_rate > 1e-12;
  Affine rate, stretch, out;
  if (free && bounds.free) stretch.add(1, new_unknown(0));
  if (free) {
    std::uint32_t const unknown = new_unknown(r.run_on_out_mm3);
    out.add(1, unknown);
    double const beta = 1 / r.by_rate;
    rate.constant = r.rate - beta * (r.run_on_out_mm3 - r.by_run_on * r.run_on_in_mm3);
    rate.add(-beta * r.by_run_on, run_on);
    rate.add(-beta * by_stretch, stretch);
    rate.add(beta, unknown);
  } else {
    rate.constant = r.rate;
    out.constant = r.run_on_out_mm3 - r.by_run_on * r.run_on_in_mm3;
    out.add(r.by_run_on, run_on);
  }
  rate_of[i] = rate;
  stretch_of[i] = stretch;
  run_on_of[i] = out;
  add_shares(problem, i, run_on);
  bool const ran_out = problem.cuts[i].run_out_after && r.run_on_out_mm3 > 0;
  run_on = ran_out ? Affine{} : out;
}

void PaceTangent::State::add_shares(Problem const& problem, std::size_t i, Affine const& in) {
  CutResponse const& r = line.cuts[i];
  for (std::uint32_t s = r.first_share; s < r.first_share + r.shares; ++s) {
    CellShare const& share = line.shares[s];
    Affine got;
    got.constant = share.got_mm3 - share.by_run_on * r.run_on_in_mm3 - share.by_rate * r.rate;
    got.add(share.by_run_on, in);
    got.add(share.by_rate, rate_of[i]);
    got.add(line.share_by_stretch[s], stretch_of[i]);
    if (problem.wanted_mm3[share.cell] == 0) {
      add_cost(got);
    } else {
      Affine& cell = cells[share.cell];
      if (cell.fits(got)) {
        cell.add(1, got);
      } else {  // a cell of many cuts: what the oldest give is taken as it was
        cell.constant += share.got_mm3;
      }
    }
  }
}

// Where nothing is wanted, |got| is got.
void PaceTangent::State::add_cost(Affine const& cost) {
  if (cost.first == Affine::constant_only) return;
  program.linear.resize(x.size() + solve::wide_row_width, 0.0);
  for (std::size_t k = 0; k < solve::wide_row_width; ++k)
    program.linear[cost.first + k] += cost.c[k];
}

// price·duration·e^z to second order.
void PaceTangent::State::add_times(std::vector<DurationBounds> const& bounds, double price) {
  program.curvature.assign(x.size(), {});
  for (std::size_t i = 0; i < bounds.size(); ++i) {
    if (stretch_of[i].first == Affine::constant_only) continue;
    double const cost = price * bounds[i].duration_s;
    program.linear[stretch_of[i].first] += cost;
    program.curvature[stretch_of[i].first][0] += cost;
  }
}

void PaceTangent::State::add_range(Affine const& value, double low, double high, double scale) {
  if (value.first == Affine::constant_only) return;
  program.ranges.push_back(
      {value.row(scale), scale * (low - value.constant), scale * (high - value.constant)});
}

// The limit may itself depend on the speed.
void PaceTangent::State::add_junction(Affine const& before,
                                      Affine const& after,
                                      Affine const& jump,
                                      double scale) {
  if (!std::isfinite(jump.constant)) return;
  Affine up = after, down = after;
  up.add(-1, before);
  if (jump.first == Affine::constant_only) {
    add_range(up, -jump.constant, jump.constant, scale);
    return;
  }
  down.add(-1, before);
  up.add(-1, jump);
  down.add(1, jump);
  add_range(up, -infinity, 0, scale);
  add_range(down, 0, infinity, scale);
}

// The head's speed can change from one cut's middle to the next one's by what acceleration allows.
void PaceTangent::State::add_speed_change(DurationBounds const& a,
                                          DurationBounds const& b,
                                          std::size_t i) {
  if (!a.free || !b.free || a.duration_s <= 0 || b.duration_s <= 0) return;
  double const va = a.length_mm / a.duration_s, vb = b.length_mm / b.duration_s;
  double const least = std::min(a.acceleration_mm_s2, b.acceleration_mm_s2);
  double const most =
      std::max(least * (a.duration_s + b.duration_s) / 2, 1.001 * std::abs(vb - va)) + 1e-3;
  Affine change;
  change.constant = vb - va;
  change.add(va, stretch_of[i]);
  change.add(-vb, stretch_of[i + 1]);
  add_range(change, -most, most, scale_of_shares / std::max({va, vb, 1.0}));
}

void PaceTangent::State::add_rows(Problem const& problem,
                                  std::vector<DurationBounds> const& bounds) {
  constexpr double room_mm3 = 1e-6;
  FastestRise rise(problem);
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    CutResponse const& response = line.cuts[i];
    double const scale = std::max(response.by_rate, 1e-9);
    double const least =
        std::min(rise.after(cut, response, cut.rate_high), response.run_on_out_mm3) - room_mm3;
    Affine const& stretch = stretch_of[i];
    if (!cut.fixed && response.by_rate > 1e-12) {
      double const rate_high = fed_rate_high(problem, cut, response);
      if (stretch.first == Affine::constant_only) {
        add_range(rate_of[i], cut.rate_low, rate_high, scale);
      } else {
        // A slower head leaves room for more E on the same path.
        Affine high = rate_of[i], low = rate_of[i];
        high.add(-rate_high, stretch);
        low.add(-cut.rate_low, stretch);
        add_range(high, -infinity, rate_high, scale);
        add_range(low, cut.rate_low, infinity, scale);
        add_range(stretch,
                  bounds[i].low,
                  std::max(bounds[i].high, bounds[i].low + 1e-6),
                  scale_of_shares);
      }
    }
    double const floor = cut.fixed ? -infinity : least < -2 * room_mm3 ? least : 0;
    if (!cut.fixed || std::isfinite(problem.most_run_on_mm3))
      add_range(run_on_of[i], floor, problem.most_run_on_mm3, 1);
    if (i + 1 == problem.cuts.size()) continue;
    Affine jump;
    jump.constant = cut.jump_to_next;
    if (std::isfinite(cut.jump_to_next)) {
      jump.add(cut.jump_to_next / 2, stretch);
      jump.add(cut.jump_to_next / 2, stretch_of[i + 1]);
    }
    double const joint = std::min(scale, std::max(line.cuts[i + 1].by_rate, 1e-9));
    add_junction(rate_of[i], rate_of[i + 1], jump, joint);
    add_speed_change(bounds[i], bounds[i + 1], i);
  }
}

void PaceTangent::State::build(Problem const& problem,
                               std::vector<DurationBounds> const& bounds,
                               double price) {
  program.clear();
  x.clear();
  std::size_t const n = problem.cuts.size();
  rate_of.assign(n, {});
  stretch_of.assign(n, {});
  run_on_of.assign(n, {});
  cells.assign(problem.wanted_mm3.size(), {});
  Affine run_on;
  run_on.constant = problem.start_run_on_mm3;
  for (std::size_t i = 0; i < n; ++i) add_cut(problem, bounds[i], i, run_on);
  program.unknowns = x.size();
  program.linear.resize(x.size(), 0.0);
  add_times(bounds, price);
  for (std::size_t c = 0; c < cells.size(); ++c) {
    if (cells[c].first == Affine::constant_only) continue;
    program.terms.push_back({cells[c].row(), problem.wanted_mm3[c] - cells[c].constant});
  }
  if (problem.rate_before && n > 0) {
    Affine before, jump;
    before.constant = *problem.rate_before;
    jump.constant = problem.jump_before;
    add_junction(before, rate_of.front(), jump, std::max(line.cuts.front().by_rate, 1e-9));
  }
  add_rows(problem, bounds);
}

double PaceTangent::State::value(Affine const& a) const {
  double sum = a.constant;
  if (a.first == Affine::constant_only) return sum;
  for (std::size_t k = 0; k < solve::wide_row_width && a.first + k < x.size(); ++k)
    sum += a.c[k] * x[a.first + k];
  return sum;
}

PaceTangent::PaceTangent() : state_(std::make_unique<State>()) {}
PaceTangent::~PaceTangent() = default;
PaceTangent::PaceTangent(PaceTangent&&) noexcept = default;

void PaceTangent::solve(Problem const& problem,
                        std::vector<DurationBounds> const& bounds,
                        std::vector<double> const& rates,
                        PaceSettings const& settings,
                        PaceStep& step) {
  assert(bounds.size() == problem.cuts.size() && rates.size() == problem.cuts.size());
  State& s = *state_;
  linearise(problem, rates, s.line, Slopes::rates_and_durations);
  s.build(problem, bounds, settings.price_mm3_per_s);
  step.stretch.assign(bounds.size(), 0.0);
  step.rates = rates;
  if (s.x.empty()) return;
  double const wanted = std::accumulate(problem.wanted_mm3.begin(), problem.wanted_mm3.end(), 0.0);
  solve::BandSettings band;
  band.gap_tolerance = settings.gap;
  band.residual_tolerance = 1e-6;
  band.scale = std::max(wanted, 1e-6);
  // The slack at the start: what one cell wants.
  band.slack_scale =
      band.scale / static_cast<double>(std::max<std::size_t>(1, problem.wanted_mm3.size()));
  s.solver.solve(s.program, band, s.x);
  for (std::size_t i = 0; i < bounds.size(); ++i) {
    step.stretch[i] = std::clamp(s.value(s.stretch_of[i]), bounds[i].low, bounds[i].high);
    if (!problem.cuts[i].fixed) step.rates[i] = s.value(s.rate_of[i]);
  }
}

}  // namespace meltlag::schedule
