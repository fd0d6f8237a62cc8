// SPDX-License-Identifier: MIT
#include "meltlag/solve/band_program.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::solve {
namespace {

constexpr double to_boundary = 0.995;  // share of the way to the nearest bound that a step may go

// How many of a row's coefficients count: those behind them are 0. Most rows are far narrower than
// the widest, and every step passes all of them several times.
template <std::size_t Width>
std::size_t used(BasicRow<Width> const& row) {
  std::size_t n = Width;
  while (n > 0 && row.coefficients[n - 1] == 0) --n;
  return n;
}

template <std::size_t Width>
double value(BasicRow<Width> const& row, std::size_t used, std::vector<double> const& x) {
  double sum = 0;
  double const* at = x.data() + row.first;
  for (std::size_t i = 0; i < used; ++i) sum += row.coefficients[i] * at[i];
  return sum;
}

template <std::size_t Width>
double value(BasicRow<Width> const& row, std::vector<double> const& x) {
  return value(row, used(row), x);
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
void BasicBandSolver<Width>::start(Program const& program,
                                   BandSettings const& settings,
                                   std::vector<double> const& x) {
  double const delta = settings.slack_scale;
  terms_.resize(program.terms.size());
  lambda_.assign(program.terms.size(), 0.0);
  d_lambda_.resize(program.terms.size());
  d_p_.resize(program.terms.size());
  d_q_.resize(program.terms.size());
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    double const e = value(program.terms[k].row, x) - program.terms[k].target;
    terms_[k] = {};
    terms_[k].p = std::max(e, 0.0) + delta;
    terms_[k].q = std::max(-e, 0.0) + delta;
  }
  std::size_t const m = program.ranges.size();
  ranges_.resize(m);
  range_multiplier_.assign(m, 0.0);
  for (auto* v : {&d_s_low_, &d_s_high_, &d_y_low_, &d_y_high_}) v->assign(m, 0.0);
  complementarity_pairs_ = 2 * terms_.size();
  for (std::size_t j = 0; j < m; ++j) {
    auto const& range = program.ranges[j];
    double const v = value(range.row, x);
    RangeState& state = ranges_[j];
    state = {};
    state.has_low = std::isfinite(range.low);
    state.has_high = std::isfinite(range.high);
    state.s_low = state.has_low ? std::max(v - range.low, delta) : 1;
    state.s_high = state.has_high ? std::max(range.high - v, delta) : 1;
    state.y_low = state.has_low ? delta / state.s_low : 0;
    state.y_high = state.has_high ? delta / state.s_high : 0;
    complementarity_pairs_ += std::size_t{state.has_low} + std::size_t{state.has_high};
  }
  term_used_.resize(terms_.size());
  for (std::size_t k = 0; k < terms_.size(); ++k) term_used_[k] = used(program.terms[k].row);
  range_used_.resize(m);
  for (std::size_t j = 0; j < m; ++j) range_used_[j] = used(program.ranges[j].row);
  reach_.assign(program.unknowns + Width - 1, 0);
  auto const reaches = [&](BasicRow<Width> const& row, std::size_t used) {
    for (std::size_t i = 0; i + 1 < used; ++i)
      reach_[row.first + i] = std::max(reach_[row.first + i], used - 1 - i);
  };
  for (std::size_t k = 0; k < terms_.size(); ++k) reaches(program.terms[k].row, term_used_[k]);
  for (std::size_t j = 0; j < m; ++j) reaches(program.ranges[j].row, range_used_[j]);
  for (std::size_t i = 0; i < program.curvature.size(); ++i)
    for (std::size_t k = 1; k < Width; ++k)
      if (program.curvature[i][k] != 0) reach_[i] = std::max(reach_[i], k);
  for (std::size_t i = 0; i + 1 < program.unknowns; ++i)
    reach_[i + 1] = std::max(reach_[i + 1], reach_[i] - std::min<std::size_t>(reach_[i], 1));
  per_diagonal_.assign(program.unknowns, 0.0);
  band_.assign(program.unknowns + Width - 1, {});
  for (auto* v : {&rhs_, &dx_}) v->assign(program.unknowns + Width - 1, 0.0);
}

// Sets up the banded matrix from the current weights; independent of the right-hand side.
template <std::size_t Width>
void BasicBandSolver<Width>::assemble(Program const& program) {
  std::fill(band_.begin(), band_.end(), std::array<double, Width>{});
  auto const add = [&](BasicRow<Width> const& row, std::size_t used, double weight) {
    auto const& c = row.coefficients;
    for (std::size_t i = 0; i < used; ++i) {
      auto& band = band_[row.first + i];
      double const w = weight * c[i];
      for (std::size_t k = 0; i + k < used; ++k) band[k] += w * c[i + k];
    }
  };
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    TermState& t = terms_[k];
    t.per_p = 1 / (1 - lambda_[k]);
    t.per_q = 1 / (1 + lambda_[k]);
    t.weight = 1 / (t.p * t.per_p + t.q * t.per_q);
    add(program.terms[k].row, term_used_[k], t.weight);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    RangeState& s = ranges_[j];
    s.per_low = 1 / s.s_low;
    s.per_high = 1 / s.s_high;
    s.weight = s.y_low * s.per_low + s.y_high * s.per_high;
    add(program.ranges[j].row, range_used_[j], s.weight);
  }
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    for (std::size_t k = 0; k < Width; ++k) band_[i][k] += program.curvature[i][k];
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

// For the wanted mean product `mu` of the complementarity equations, with the predictor's
// second-order products where `order` is second.
template <std::size_t Width>
void BasicBandSolver<Width>::right_hand_side(Program const& program,
                                             std::vector<double> const& x,
                                             double mu,
                                             Order order) {
  std::size_t const n = program.unknowns;
  std::fill(rhs_.begin(), rhs_.end(), 0.0);
  auto const add = [&](BasicRow<Width> const& row, std::size_t used, double amount) {
    for (std::size_t i = 0; i < used; ++i) rhs_[row.first + i] -= amount * row.coefficients[i];
  };
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    auto const& term = program.terms[k];
    TermState& t = terms_[k];
    t.rp = mu - t.p * (1 - lambda_[k]);
    t.rq = mu - t.q * (1 + lambda_[k]);
    if (order == Order::second) {
      t.rp += d_p_[k] * d_lambda_[k];
      t.rq -= d_q_[k] * d_lambda_[k];
    }
    double const residual = value(term.row, term_used_[k], x) - term.target - t.p + t.q;
    t.shift = residual - t.rp * t.per_p + t.rq * t.per_q;
    add(term.row, term_used_[k], lambda_[k] + t.weight * t.shift);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    auto const& range = program.ranges[j];
    RangeState& s = ranges_[j];
    double const v = value(range.row, range_used_[j], x);
    double shift = 0;
    if (s.has_high) {
      s.r_high = mu - s.s_high * s.y_high;
      if (order == Order::second) s.r_high -= d_s_high_[j] * d_y_high_[j];
      s.gap_high = v + s.s_high - range.high;
      shift += (s.r_high + s.y_high * s.gap_high) * s.per_high;
    }
    if (s.has_low) {
      s.r_low = mu - s.s_low * s.y_low;
      if (order == Order::second) s.r_low -= d_s_low_[j] * d_y_low_[j];
      s.gap_low = v - s.s_low - range.low;
      shift -= (s.r_low - s.y_low * s.gap_low) * s.per_low;
    }
    add(range.row, range_used_[j], s.y_high - s.y_low + shift);
  }
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

template <std::size_t Width>
typename BasicBandSolver<Width>::StepLengths BasicBandSolver<Width>::direction(
    Program const& program, std::vector<double> const& x, double mu, Order order) {
  right_hand_side(program, x, mu, order);
  back_substitute();
  double primal = 1 / to_boundary, dual = 1 / to_boundary;
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    TermState const& t = terms_[k];
    double const move = value(program.terms[k].row, term_used_[k], dx_);
    double const dl = t.weight * (move + t.shift);
    d_lambda_[k] = dl;
    d_p_[k] = (t.rp + t.p * dl) * t.per_p;
    d_q_[k] = (t.rq - t.q * dl) * t.per_q;
    primal = shrink(primal, t.p, d_p_[k]);
    primal = shrink(primal, t.q, d_q_[k]);
    dual = shrink(dual, 1 - lambda_[k], -dl);
    dual = shrink(dual, 1 + lambda_[k], dl);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    RangeState const& s = ranges_[j];
    double const move = value(program.ranges[j].row, range_used_[j], dx_);
    if (s.has_high) {
      d_s_high_[j] = -s.gap_high - move;
      d_y_high_[j] = (s.r_high + s.y_high * (s.gap_high + move)) * s.per_high;
      primal = shrink(primal, s.s_high, d_s_high_[j]);
      dual = shrink(dual, s.y_high, d_y_high_[j]);
    }
    if (s.has_low) {
      d_s_low_[j] = s.gap_low + move;
      d_y_low_[j] = (s.r_low - s.y_low * (s.gap_low + move)) * s.per_low;
      primal = shrink(primal, s.s_low, d_s_low_[j]);
      dual = shrink(dual, s.y_low, d_y_low_[j]);
    }
  }
  return {std::min(1.0, to_boundary * primal), std::min(1.0, to_boundary * dual)};
}

template <std::size_t Width>
double BasicBandSolver<Width>::complementarity(StepLengths step) const {
  double sum = 0;
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    double const l = lambda_[k] + step.dual * d_lambda_[k];
    sum += (terms_[k].p + step.primal * d_p_[k]) * (1 - l);
    sum += (terms_[k].q + step.primal * d_q_[k]) * (1 + l);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    RangeState const& s = ranges_[j];
    if (s.has_low) {
      sum += (s.s_low + step.primal * d_s_low_[j]) * (s.y_low + step.dual * d_y_low_[j]);
    }
    if (s.has_high) {
      sum += (s.s_high + step.primal * d_s_high_[j]) * (s.y_high + step.dual * d_y_high_[j]);
    }
  }
  return sum;
}

template <std::size_t Width>
void BasicBandSolver<Width>::advance(Program const& program,
                                     StepLengths step,
                                     std::vector<double>& x) {
  for (std::size_t i = 0; i < program.unknowns; ++i) x[i] += step.primal * dx_[i];
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    terms_[k].p += step.primal * d_p_[k];
    terms_[k].q += step.primal * d_q_[k];
    lambda_[k] += step.dual * d_lambda_[k];
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    RangeState& s = ranges_[j];
    if (s.has_low) {
      s.s_low += step.primal * d_s_low_[j];
      s.y_low += step.dual * d_y_low_[j];
    }
    if (s.has_high) {
      s.s_high += step.primal * d_s_high_[j];
      s.y_high += step.dual * d_y_high_[j];
    }
  }
}

template <std::size_t Width>
double BasicBandSolver<Width>::worst_residual(Program const& program,
                                              std::vector<double> const& x) const {
  double worst = 0;
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    double const v = value(program.ranges[j].row, range_used_[j], x);
    worst = std::max({worst, program.ranges[j].low - v, v - program.ranges[j].high});
  }
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
  StepLengths const none{0, 0};
  double primal_left = 1, dual_left = 1;  // share of the start's residuals that is still there
  for (; info.steps < settings.most_steps; ++info.steps) {
    info.gap = complementarity(none);
    info.residual = worst_residual(program, x);
    if (info.gap <= settings.gap_tolerance * settings.scale &&
        info.residual <= settings.residual_tolerance * settings.scale &&
        std::max(primal_left, dual_left) <= settings.start_residual_left) {
      info.status = BandStatus::solved;
      break;
    }
    info.status = BandStatus::step_limit;
    double const mu = info.gap / static_cast<double>(complementarity_pairs_);
    assemble(program);
    if (!factor()) {
      info.status = BandStatus::stalled;
      break;
    }
    StepLengths const affine_step = direction(program, x, 0, Order::first);
    double const affine =
        complementarity(affine_step) / static_cast<double>(complementarity_pairs_);
    double const ratio = affine / mu;
    StepLengths step = direction(program, x, mu * ratio * ratio * ratio, Order::second);
    if (curved) step.primal = step.dual = std::min(step.primal, step.dual);
    if (std::max(step.primal, step.dual) < 1e-9) {
      info.status = BandStatus::stalled;
      break;
    }
    advance(program, step, x);
    primal_left *= 1 - step.primal;
    dual_left *= 1 - step.dual;
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    range_multiplier_[j] = ranges_[j].y_high - ranges_[j].y_low;
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
