// SPDX-License-Identifier: MIT
// Successive linearisation. Each round replaces the melt by its tangent along the last trajectory,
// which makes the run-on at the end of every free cut an unknown and everything else affine in at
// most three neighbouring unknowns; the band solver finds the least misplaced plastic of the
// tangent problem, and a step towards it is taken that truly improves the simulated figure. Rates
// stay feasible on the way because the limits are linear in them.
#include <algorithm>
#include <cassert>
#include <cmath>

#include "meltlag/schedule/problem.hpp"
#include "meltlag/solve/band_program.hpp"
#include "response.hpp"

namespace meltlag::schedule {
namespace {

// c + Σ coefficients·x[first + …]; with no unknowns when `first` is `constant_only`.
struct Affine {
  static constexpr std::uint32_t constant_only = std::numeric_limits<std::uint32_t>::max();
  std::uint32_t first = constant_only;
  std::array<double, solve::row_width> c{};
  double constant = 0;

  void add(double coefficient, std::uint32_t unknown) {
    if (coefficient == 0) return;
    if (first == constant_only) first = unknown;
    if (unknown < first) {  // shift right to make room in front
      std::uint32_t const by = first - unknown;
      for (std::size_t i = 0; i < solve::row_width; ++i)
        assert(c[i] == 0 || i + by < solve::row_width);
      for (std::size_t i = solve::row_width; i-- > 0;) c[i] = i >= by ? c[i - by] : 0;
      first = unknown;
    }
    std::size_t const at = unknown - first;
    assert(at < solve::row_width);
    c[at] += coefficient;
  }
  void add(double factor, Affine const& other) {
    constant += factor * other.constant;
    if (other.first == constant_only) return;
    for (std::size_t i = 0; i < solve::row_width; ++i) {
      add(factor * other.c[i], other.first + static_cast<std::uint32_t>(i));
    }
  }
  [[nodiscard]] solve::Row row(double scale = 1) const {
    return {first, {c[0] * scale, c[1] * scale, c[2] * scale}};
  }
};

double misplaced(Problem const& problem, Linearisation const& line, std::vector<double>& got) {
  got.assign(problem.wanted_mm3.size(), 0.0);
  for (CellShare const& share : line.shares) got[share.cell] += share.got_mm3;
  double sum = 0;
  for (std::size_t c = 0; c < got.size(); ++c) sum += std::abs(got[c] - problem.wanted_mm3[c]);
  if (problem.end_run_on_mm3) sum += std::abs(line.run_on_mm3.back() - *problem.end_run_on_mm3);
  // An overfull barrel cannot be allowed to pay.
  for (double w : line.run_on_mm3) sum += 10 * std::max(0.0, w - problem.most_run_on_mm3);
  return sum;
}

}  // namespace

struct Optimiser::State {
  solve::BandSolver solver;
  solve::BandProgram program;
  Linearisation line, trial_line;
  std::vector<Affine> rate_of;                // per cut
  std::vector<Affine> cells;                  // per cell
  std::vector<std::uint32_t> cut_of_unknown;  // per unknown
  std::vector<double> x, target, trial, got;

  void build(Problem const& problem);
  void add_cost(CellShare const& share, Affine const& in, Affine const& rate);
  void add_cells(Problem const& problem);
  void add_limits(Problem const& problem);
  void add_junction(Affine const& before, Affine const& after, double jump, double scale);
  double wanted_total = 0;
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
    in = out;
  }
  program.unknowns = x.size();
  program.linear.resize(x.size(), 0.0);
  add_cells(problem);
  add_limits(problem);
  if (problem.end_run_on_mm3 && in.first != Affine::constant_only) {
    program.terms.push_back({in.row(), *problem.end_run_on_mm3 - in.constant});
  }
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
  std::size_t unknown = 0;
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    double const scale = std::max(line.cuts[i].by_rate, 1e-9);  // rates → mm³
    if (unknown < cut_of_unknown.size() && cut_of_unknown[unknown] == i) {
      Affine const& rate = rate_of[i];
      program.ranges.push_back({rate.row(scale),
                                scale * (cut.rate_low - rate.constant),
                                scale * (cut.rate_high - rate.constant)});
      // After an emptying that stays as written, the nozzle may stay as empty as it was.
      double const least = std::min(0.0, line.cuts[i].run_on_out_mm3 - 1e-6);
      program.ranges.push_back(
          {{static_cast<std::uint32_t>(unknown), {1, 0, 0}}, least, problem.most_run_on_mm3});
      ++unknown;
    }
    if (i + 1 < problem.cuts.size()) {
      double const joint = std::min(scale, std::max(line.cuts[i + 1].by_rate, 1e-9));
      add_junction(rate_of[i], rate_of[i + 1], cut.jump_to_next, joint);
    }
  }
  if (problem.cuts.empty()) return;
  Affine fixed;
  if (problem.rate_before) {
    fixed.constant = *problem.rate_before;
    add_junction(
        fixed, rate_of.front(), problem.jump_before, std::max(line.cuts.front().by_rate, 1e-9));
  }
  if (problem.rate_after) {
    fixed.constant = *problem.rate_after;
    add_junction(
        rate_of.back(), fixed, problem.jump_after, std::max(line.cuts.back().by_rate, 1e-9));
  }
}

Optimiser::Optimiser() : state_(std::make_unique<State>()) {}
Optimiser::~Optimiser() = default;
Optimiser::Optimiser(Optimiser&&) noexcept = default;

OptimiseInfo Optimiser::optimise(Problem const& problem,
                                 OptimiseSettings const& settings,
                                 std::vector<double>& rates) {
  State& s = *state_;
  OptimiseInfo info;
  if (rates.size() != problem.cuts.size()) {
    rates.clear();
    for (Cut const& cut : problem.cuts) rates.push_back(cut.rate);
  }
  double wanted = 0;
  for (double w : problem.wanted_mm3) wanted += w;
  double const scale = std::max(wanted, 1e-6);
  linearise(problem, rates, s.line);
  double now = info.start_mm3 = misplaced(problem, s.line, s.got);
  bool const exact = std::all_of(problem.laws.begin(),
                                 problem.laws.end(),
                                 [](auto const& law) { return law.flow_index == 1.0; }) &&
                     problem.feed.play_mm == 0 && problem.feed.reverse_factor == 1;
  info.status = OptimiseStatus::round_limit;
  bool first = true;
  while (info.rounds < settings.most_rounds) {
    s.build(problem);
    if (s.x.empty()) break;
    solve::BandSettings band;
    band.gap_tolerance = settings.gap;
    band.scale = scale;
    band.slack_scale =
        0.3 * scale / static_cast<double>(std::max<std::size_t>(1, problem.wanted_mm3.size()));
    auto const solved = s.solver.solve(s.program, band, s.x);
    info.steps += solved.steps;
    ++info.rounds;
    s.target.resize(rates.size());
    for (std::size_t i = 0; i < rates.size(); ++i) {
      Affine const& a = s.rate_of[i];
      double r = a.constant;
      if (a.first != Affine::constant_only) {
        for (std::size_t k = 0; k < solve::row_width && a.first + k < s.x.size(); ++k)
          r += a.c[k] * s.x[a.first + k];
      }
      s.target[i] = problem.cuts[i].fixed
                        ? problem.cuts[i].rate
                        : std::clamp(r, problem.cuts[i].rate_low, problem.cuts[i].rate_high);
    }
    // The start may break limits, so the first full step is taken whatever it brings.
    double length = 1, then = 0;
    bool better = false;
    for (int halving = 0; halving < 6; ++halving, length /= 2) {
      s.trial = s.target;
      if (length < 1) {
        for (std::size_t i = 0; i < rates.size(); ++i)
          s.trial[i] = rates[i] + length * (s.target[i] - rates[i]);
      }
      linearise(problem, s.trial, s.trial_line);
      then = misplaced(problem, s.trial_line, s.got);
      better = first || then < now;
      if (better) break;
    }
    if (!better) {
      info.status = OptimiseStatus::solved;
      break;
    }
    double const gained = now - then;
    bool const emptied =
        *std::min_element(s.trial_line.run_on_mm3.begin(), s.trial_line.run_on_mm3.end()) < -1e-6 ||
        *std::min_element(s.line.run_on_mm3.begin(), s.line.run_on_mm3.end()) < -1e-6;
    rates = s.trial;
    std::swap(s.line, s.trial_line);
    now = then;
    if ((exact && !emptied) || (!first && gained < settings.improvement * scale)) {
      info.status = OptimiseStatus::solved;
      break;
    }
    first = false;
  }
  info.misplaced_mm3 = now;
  return info;
}

}  // namespace meltlag::schedule
