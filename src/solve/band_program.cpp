// SPDX-License-Identifier: MIT
#include "meltlag/solve/band_program.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::solve {
namespace {

constexpr double to_boundary = 0.995;  // share of the way to the nearest bound that a step may go

// How many of a row's coefficients count: those after them are 0. Most rows are far narrower than
// the widest, and every step passes all of them several times.
template <std::size_t Width>
std::size_t used(BasicRow<Width> const& row) {
  std::size_t n = Width;
  while (n > 0 && row.coefficients[n - 1] == 0) --n;
  return n;
}

double product(double const* coefficients, std::size_t used, double const* x) {
  double sum = 0;
  for (std::size_t i = 0; i < used; ++i) sum += coefficients[i] * x[i];
  return sum;
}

template <std::size_t Width>
double value(BasicRow<Width> const& row, std::vector<double> const& x) {
  return product(row.coefficients.data(), used(row), x.data() + row.first);
}

double shrink(double length, double x, double dx) { return x + length * dx < 0 ? -x / dx : length; }

template <std::size_t Width>
double objective_of(BasicBandProgram<Width> const& program, std::vector<double> const& x) {
  double sum = 0;
  for (auto const& term : program.terms) sum += std::abs(value(term.row, x) - term.target);
  for (std::size_t i = 0; i < program.linear.size(); ++i) sum += program.linear[i] * x[i];
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    auto const& h = program.curvature[i];
    sum += h[0] * x[i] * x[i] / 2;
    for (std::size_t k = 1; k < Width && i + k < x.size(); ++k) sum += h[k] * x[i] * x[i + k];
  }
  return sum;
}

}  // namespace

template <std::size_t Width>
void BasicBandProgram<Width>::clear() {
  unknowns = 0;
  terms.clear();
  ranges.clear();
  linear.clear();
  curvature.clear();
}

template <std::size_t Width>
void BasicBandSolver<Width>::PackedRows::clear() {
  places.clear();
  coefficients.clear();
}

template <std::size_t Width>
void BasicBandSolver<Width>::PackedRows::append(BasicRow<Width> const& row) {
  std::size_t const n = used(row);
  places.push_back({row.first, static_cast<std::uint32_t>(n)});
  coefficients.insert(coefficients.end(), row.coefficients.begin(), row.coefficients.begin() + n);
}

namespace {

void subtract(double const* coefficients, std::uint32_t used, double amount, double* from) {
  for (std::uint32_t i = 0; i < used; ++i) from[i] -= amount * coefficients[i];
}

// weight · a aᵀ onto the band's rows from `band` on.
template <std::size_t Width>
void add_square(double const* a,
                std::uint32_t used,
                double weight,
                std::array<double, Width>* band) {
  for (std::uint32_t i = 0; i < used; ++i) {
    double const w = weight * a[i];
    for (std::uint32_t k = 0; i + k < used; ++k) band[i][k] += w * a[i + k];
  }
}

}  // namespace

template <std::size_t Width>
void BasicBandSolver<Width>::start_terms(Program const& program,
                                         double slack,
                                         std::vector<double> const& x) {
  terms_.assign(program.terms.size(), {});
  lambda_.assign(program.terms.size(), 0.0);
  term_rows_.clear();
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    auto const& term = program.terms[k];
    TermState& t = terms_[k];
    term_rows_.append(term.row);
    t.off = value(term.row, x) - term.target;
    t.p = std::max(t.off, 0.0) + slack;
    t.q = std::max(-t.off, 0.0) + slack;
  }
  complementarity_pairs_ = 2 * terms_.size();
}

template <std::size_t Width>
void BasicBandSolver<Width>::start_ranges(Program const& program,
                                          double slack,
                                          std::vector<double> const& x) {
  ranges_.assign(program.ranges.size(), {});
  range_multiplier_.assign(program.ranges.size(), 0.0);
  range_rows_.clear();
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    auto const& range = program.ranges[j];
    RangeState& state = ranges_[j];
    range_rows_.append(range.row);
    state.value = value(range.row, x);
    state.bounds = {BoundState{.sign = 1, .at = range.low},
                    BoundState{.sign = -1, .at = range.high}};
    for (BoundState& b : state.bounds) {
      b.exists = std::isfinite(b.at);
      if (!b.exists) continue;
      b.s = std::max(b.sign * (state.value - b.at), slack);
      b.y = slack / b.s;
      ++complementarity_pairs_;
    }
  }
}

// How far each row of the band goes, from what the program's rows touch.
template <std::size_t Width>
void BasicBandSolver<Width>::find_reach(Program const& program) {
  reach_.assign(program.unknowns + Width - 1, 0);
  for (PackedRows const* rows : {&term_rows_, &range_rows_}) {
    for (auto const& [first, used] : rows->places) {
      for (std::size_t i = 0; i + 1 < used; ++i)
        reach_[first + i] = std::max<std::size_t>(reach_[first + i], used - 1 - i);
    }
  }
  for (std::size_t i = 0; i < program.curvature.size(); ++i)
    for (std::size_t k = 1; k < Width; ++k)
      if (program.curvature[i][k] != 0) reach_[i] = std::max(reach_[i], k);
  for (std::size_t i = 0; i + 1 < program.unknowns; ++i)
    reach_[i + 1] = std::max(reach_[i + 1], reach_[i] - std::min<std::size_t>(reach_[i], 1));
}

template <std::size_t Width>
void BasicBandSolver<Width>::start(Program const& program,
                                   BandSettings const& settings,
                                   std::vector<double> const& x) {
  start_terms(program, settings.slack_scale, x);
  start_ranges(program, settings.slack_scale, x);
  find_reach(program);
  per_diagonal_.assign(program.unknowns, 0.0);
  band_.assign(program.unknowns + Width - 1, {});
  for (auto* v : {&rhs_, &dx_}) v->assign(program.unknowns + Width - 1, 0.0);
}

// −(H x + g) onto the right-hand side, which begins there.
template <std::size_t Width>
void BasicBandSolver<Width>::add_objective(Program const& program, std::vector<double> const& x) {
  std::size_t const n = program.unknowns;
  std::fill(rhs_.begin(), rhs_.end(), 0.0);
  for (std::size_t i = 0; i < program.linear.size(); ++i) rhs_[i] -= program.linear[i];
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    auto const& h = program.curvature[i];
    rhs_[i] -= h[0] * x[i];
    for (std::size_t k = 1; k < Width && i + k < n; ++k) {
      rhs_[i] -= h[k] * x[i + k];
      rhs_[i + k] -= h[k] * x[i];
    }
  }
}

// Sets up the banded matrix from the current weights, and the right-hand side of the predictor,
// which aims at complementarity 0: there all but the rows' own values cancels out.
template <std::size_t Width>
void BasicBandSolver<Width>::assemble(Program const& program, std::vector<double> const& x) {
  std::fill(band_.begin(), band_.end(), std::array<double, Width>{});
  add_objective(program, x);
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    for (std::size_t k = 0; k < Width; ++k) band_[i][k] += program.curvature[i][k];
  }
  double const* a = term_rows_.coefficients.data();
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    auto const [first, used] = term_rows_.places[k];
    TermState& t = terms_[k];
    double const up = 1 - lambda_[k], down = 1 + lambda_[k];
    t.per_p = 1 / up;
    t.per_q = 1 / down;
    t.weight = 1 / (t.p * t.per_p + t.q * t.per_q);
    t.rp = -t.p * up;
    t.rq = -t.q * down;
    t.shift = t.off;
    add_square(a, used, t.weight, &band_[first]);
    subtract(a, used, lambda_[k] + t.weight * t.off, &rhs_[first]);
    a += used;
  }
  a = range_rows_.coefficients.data();
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    auto const [first, used] = range_rows_.places[j];
    RangeState& state = ranges_[j];
    double amount = 0;
    state.weight = 0;
    for (BoundState& b : state.bounds) {
      if (!b.exists) continue;
      double const off = state.value - b.at;
      b.per = 1 / b.s;
      b.gap = b.sign * (state.value - b.sign * b.s - b.at);
      b.r = -b.s * b.y;
      double const weight = b.y * b.per;
      state.weight += weight;
      amount += weight * off - b.sign * b.y;
    }
    add_square(a, used, state.weight, &band_[first]);
    subtract(a, used, amount, &rhs_[first]);
    a += used;
  }
}

// D·L' in place: the diagonal's reciprocal in per_diagonal_, L' beside it.
template <std::size_t Width>
bool BasicBandSolver<Width>::factor() {
  std::size_t const n = band_.size() - (Width - 1);
  constexpr double tiny = 1e-13;
  for (std::size_t i = 0; i < n; ++i) per_diagonal_[i] = tiny * (std::abs(band_[i][0]) + tiny);
  for (std::size_t i = 0; i < n; ++i) {
    auto& row = band_[i];
    double const floor = per_diagonal_[i];
    if (!(row[0] > floor)) {
      if (!std::isfinite(row[0])) return false;
      row[0] = floor;
    }
    double const per = per_diagonal_[i] = 1 / row[0];
    std::size_t const reach = reach_[i];
    for (std::size_t j = 1; j <= reach; ++j) {
      double const l = row[j] * per;
      auto& below = band_[i + j];
      for (std::size_t k = 0; j + k <= reach; ++k) below[k] -= l * row[j + k];
    }
    for (std::size_t j = 1; j <= reach; ++j) row[j] *= per;
  }
  return true;
}

template <std::size_t Width>
void BasicBandSolver<Width>::back_substitute() {
  std::size_t const n = band_.size() - (Width - 1);
  std::copy(rhs_.begin(), rhs_.end(), dx_.begin());
  for (std::size_t i = 0; i < n; ++i) {
    double const v = dx_[i];
    for (std::size_t k = 1; k <= reach_[i]; ++k) dx_[i + k] -= band_[i][k] * v;
  }
  for (std::size_t i = 0; i < n; ++i) dx_[i] *= per_diagonal_[i];
  std::fill(dx_.begin() + static_cast<std::ptrdiff_t>(n), dx_.end(), 0.0);
  // The nearest last: it is known last.
  for (std::size_t i = n; i-- > 0;) {
    double v = dx_[i];
    for (std::size_t k = reach_[i]; k >= 1; --k) v -= band_[i][k] * dx_[i + k];
    dx_[i] = v;
  }
}

// The right-hand side for the wanted mean product `mu` of the complementarity equations, with the
// predictor's second-order products.
template <std::size_t Width>
void BasicBandSolver<Width>::correct(Program const& program,
                                     std::vector<double> const& x,
                                     double mu) {
  add_objective(program, x);
  double const* a = term_rows_.coefficients.data();
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    auto const [first, used] = term_rows_.places[k];
    TermState& t = terms_[k];
    t.rp += mu + t.d_p * t.d_lambda;
    t.rq += mu - t.d_q * t.d_lambda;
    t.shift = t.off - t.p + t.q - t.rp * t.per_p + t.rq * t.per_q;
    subtract(a, used, lambda_[k] + t.weight * t.shift, &rhs_[first]);
    a += used;
  }
  a = range_rows_.coefficients.data();
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    auto const [first, used] = range_rows_.places[j];
    RangeState& state = ranges_[j];
    double amount = state.bounds[1].y - state.bounds[0].y;
    for (BoundState& b : state.bounds) {
      if (!b.exists) continue;
      b.r += mu - b.d_s * b.d_y;
      amount -= b.sign * (b.r - b.y * b.gap) * b.per;
    }
    subtract(a, used, amount, &rhs_[first]);
    a += used;
  }
}

template <std::size_t Width>
typename BasicBandSolver<Width>::Direction BasicBandSolver<Width>::direction() {
  back_substitute();
  Direction out{};
  double primal = 1 / to_boundary, dual = 1 / to_boundary;
  double const* a = term_rows_.coefficients.data();
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    auto const [first, used] = term_rows_.places[k];
    TermState& t = terms_[k];
    double const up = 1 - lambda_[k], down = 1 + lambda_[k];
    t.move = product(a, used, &dx_[first]);
    double const dl = t.d_lambda = t.weight * (t.move + t.shift);
    t.d_p = (t.rp + t.p * dl) * t.per_p;
    t.d_q = (t.rq - t.q * dl) * t.per_q;
    primal = shrink(primal, t.p, t.d_p);
    primal = shrink(primal, t.q, t.d_q);
    dual = shrink(dual, up, -dl);
    dual = shrink(dual, down, dl);
    out.a += t.p * up + t.q * down;
    out.b += t.d_p * up + t.d_q * down;
    out.c += (t.q - t.p) * dl;
    out.d += (t.d_q - t.d_p) * dl;
    a += used;
  }
  a = range_rows_.coefficients.data();
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    auto const [first, used] = range_rows_.places[j];
    RangeState& state = ranges_[j];
    state.move = product(a, used, &dx_[first]);
    for (BoundState& b : state.bounds) {
      if (!b.exists) continue;
      b.d_s = b.gap + b.sign * state.move;
      b.d_y = (b.r - b.y * b.d_s) * b.per;
      primal = shrink(primal, b.s, b.d_s);
      dual = shrink(dual, b.y, b.d_y);
      out.a += b.s * b.y;
      out.b += b.d_s * b.y;
      out.c += b.s * b.d_y;
      out.d += b.d_s * b.d_y;
    }
    a += used;
  }
  out.step = {std::min(1.0, to_boundary * primal), std::min(1.0, to_boundary * dual)};
  return out;
}

template <std::size_t Width>
double BasicBandSolver<Width>::complementarity() const {
  double sum = 0;
  for (std::size_t k = 0; k < terms_.size(); ++k)
    sum += terms_[k].p * (1 - lambda_[k]) + terms_[k].q * (1 + lambda_[k]);
  for (RangeState const& state : ranges_)
    sum += state.bounds[0].s * state.bounds[0].y + state.bounds[1].s * state.bounds[1].y;
  return sum;
}

template <std::size_t Width>
void BasicBandSolver<Width>::advance(Program const& program,
                                     StepLengths step,
                                     std::vector<double>& x) {
  for (std::size_t i = 0; i < program.unknowns; ++i) x[i] += step.primal * dx_[i];
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    TermState& t = terms_[k];
    t.p += step.primal * t.d_p;
    t.q += step.primal * t.d_q;
    t.off += step.primal * t.move;
    lambda_[k] += step.dual * t.d_lambda;
  }
  for (RangeState& state : ranges_) {
    state.value += step.primal * state.move;
    for (BoundState& b : state.bounds) {
      b.s += step.primal * b.d_s;
      b.y += step.dual * b.d_y;
    }
  }
}

template <std::size_t Width>
double BasicBandSolver<Width>::worst_residual() const {
  double worst = 0;
  for (RangeState const& state : ranges_)
    for (BoundState const& b : state.bounds) worst = std::max(worst, b.sign * (b.at - state.value));
  return worst;
}

template <std::size_t Width>
BandInfo BasicBandSolver<Width>::solve(Program const& program,
                                       BandSettings const& settings,
                                       std::vector<double>& x) {
  assert(x.size() == program.unknowns);
  BandInfo info;
  start(program, settings, x);
  bool const curved = !program.curvature.empty();
  double primal_left = 1, dual_left = 1;  // share of the start's residuals that is still there
  info.gap = complementarity();
  for (; info.steps < settings.most_steps; ++info.steps) {
    info.residual = worst_residual();
    if (info.gap <= settings.gap_tolerance * settings.scale &&
        info.residual <= settings.residual_tolerance * settings.scale &&
        std::max(primal_left, dual_left) <= settings.start_residual_left) {
      info.status = BandStatus::solved;
      break;
    }
    info.status = BandStatus::step_limit;
    double const mu = info.gap / static_cast<double>(complementarity_pairs_);
    assemble(program, x);
    if (!factor()) {
      info.status = BandStatus::stalled;
      break;
    }
    Direction const predictor = direction();
    double const ratio = predictor.gap(predictor.step) / info.gap;
    correct(program, x, mu * ratio * ratio * ratio);
    Direction const corrector = direction();
    StepLengths step = corrector.step;
    if (curved) step.primal = step.dual = std::min(step.primal, step.dual);
    if (std::max(step.primal, step.dual) < 1e-9) {
      info.status = BandStatus::stalled;
      break;
    }
    advance(program, step, x);
    info.gap = corrector.gap(step);
    primal_left *= 1 - step.primal;
    dual_left *= 1 - step.dual;
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    range_multiplier_[j] = ranges_[j].bounds[1].y - ranges_[j].bounds[0].y;
  }
  info.objective = objective_of(program, x);
  return info;
}

template struct BasicBandProgram<row_width>;
template struct BasicBandProgram<wide_row_width>;
template struct BasicBandProgram<wider_row_width>;
template struct BasicBandProgram<widest_row_width>;
template class BasicBandSolver<row_width>;
template class BasicBandSolver<wide_row_width>;
template class BasicBandSolver<wider_row_width>;
template class BasicBandSolver<widest_row_width>;

}  // namespace meltlag::solve
