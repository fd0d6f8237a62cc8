// SPDX-License-Identifier: MIT
#include "meltlag/solve/band_program.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::solve {
namespace {

constexpr double to_boundary = 0.995;  // share of the way to the nearest bound that a step may go

template <std::size_t Width>
double value(BasicRow<Width> const& row, std::vector<double> const& x) {
  double sum = 0;
  double const* at = x.data() + row.first;
  if (row.first + Width <= x.size()) {
    for (std::size_t i = 0; i < Width; ++i) sum += row.coefficients[i] * at[i];
    return sum;
  }
  std::size_t const width = std::min(Width, x.size() - row.first);
  for (std::size_t i = 0; i < width; ++i) sum += row.coefficients[i] * at[i];
  return sum;
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
  band_.assign(program.unknowns + Width - 1, {});
  for (auto* v : {&rhs_, &dx_}) v->assign(program.unknowns + Width - 1, 0.0);
}

// Sets up the banded matrix from the current weights; independent of the right-hand side.
template <std::size_t Width>
void BasicBandSolver<Width>::assemble(Program const& program) {
  std::fill(band_.begin(), band_.end(), std::array<double, Width>{});
  auto const add = [&](BasicRow<Width> const& row, double weight) {
    auto const& c = row.coefficients;
    for (std::size_t i = 0; i < Width; ++i) {
      for (std::size_t k = 0; i + k < Width; ++k)
        band_[row.first + i][k] += weight * c[i] * c[i + k];
    }
  };
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    TermState& t = terms_[k];
    t.weight = 1 / (t.p / (1 - lambda_[k]) + t.q / (1 + lambda_[k]));
    add(program.terms[k].row, t.weight);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    RangeState& s = ranges_[j];
    s.weight = s.y_low / s.s_low + s.y_high / s.s_high;
    add(program.ranges[j].row, s.weight);
  }
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    for (std::size_t k = 0; k < Width; ++k) band_[i][k] += program.curvature[i][k];
  }
}

template <std::size_t Width>
bool BasicBandSolver<Width>::factor() {
  std::size_t const n = band_.size() - (Width - 1);
  constexpr double tiny = 1e-13;
  for (std::size_t i = 0; i < n; ++i) {
    std::array<double, Width> row = band_[i];
    for (std::size_t j = 1; j < Width && j <= i; ++j) {
      auto const& above = band_[i - j];  // factored: D, then L below it
      double const l = above[j];
      row[0] -= l * l * above[0];
      for (std::size_t k = 1; j + k < Width; ++k) row[k] -= l * above[j + k] * above[0];
    }
    double const floor = tiny * (std::abs(band_[i][0]) + tiny);
    if (!(row[0] > floor)) {
      if (!std::isfinite(row[0])) return false;
      row[0] = floor;
    }
    for (std::size_t k = 1; k < Width; ++k) row[k] /= row[0];
    band_[i] = row;
  }
  return true;
}

template <std::size_t Width>
void BasicBandSolver<Width>::back_substitute() {
  std::size_t const n = band_.size() - (Width - 1);
  std::copy(rhs_.begin(), rhs_.end(), dx_.begin());
  for (std::size_t i = 1; i < n; ++i) {
    for (std::size_t k = 1; k < Width && k <= i; ++k) dx_[i] -= band_[i - k][k] * dx_[i - k];
  }
  for (std::size_t i = 0; i < n; ++i) dx_[i] /= band_[i][0];
  std::fill(dx_.begin() + static_cast<std::ptrdiff_t>(n), dx_.end(), 0.0);
  for (std::size_t i = n; i-- > 0;) {
    for (std::size_t k = 1; k < Width && i + k < n; ++k) dx_[i] -= band_[i][k] * dx_[i + k];
  }
}

// Right-hand sides of the complementarity equations for the wanted mean product `mu`; with the
// predictor's second-order products when `second_order`.
template <std::size_t Width>
void BasicBandSolver<Width>::targets(Program const& program, double mu, bool second_order) {
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    TermState& t = terms_[k];
    t.rp = mu - t.p * (1 - lambda_[k]);
    t.rq = mu - t.q * (1 + lambda_[k]);
    if (second_order) {
      t.rp += d_p_[k] * d_lambda_[k];
      t.rq -= d_q_[k] * d_lambda_[k];
    }
  }
  for (std::size_t j = 0; j < program.ranges.size(); ++j) {
    RangeState& s = ranges_[j];
    s.r_low = s.has_low ? mu - s.s_low * s.y_low : 0;
    s.r_high = s.has_high ? mu - s.s_high * s.y_high : 0;
    if (second_order) {
      s.r_low -= d_s_low_[j] * d_y_low_[j];
      s.r_high -= d_s_high_[j] * d_y_high_[j];
    }
  }
}

template <std::size_t Width>
void BasicBandSolver<Width>::right_hand_side(Program const& program, std::vector<double> const& x) {
  std::size_t const n = program.unknowns;
  std::fill(rhs_.begin(), rhs_.end(), 0.0);
  auto const add = [&](BasicRow<Width> const& row, double amount) {
    for (std::size_t i = 0; i < Width; ++i) rhs_[row.first + i] -= amount * row.coefficients[i];
  };
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    auto const& term = program.terms[k];
    TermState& t = terms_[k];
    double const residual = value(term.row, x) - term.target - t.p + t.q;
    t.shift = residual - t.rp / (1 - lambda_[k]) + t.rq / (1 + lambda_[k]);
    add(term.row, lambda_[k] + t.weight * t.shift);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    auto const& range = program.ranges[j];
    RangeState& s = ranges_[j];
    double const v = value(range.row, x);
    double shift = 0;
    if (s.has_high) shift += (s.r_high + s.y_high * (v + s.s_high - range.high)) / s.s_high;
    if (s.has_low) shift -= (s.r_low - s.y_low * (v - s.s_low - range.low)) / s.s_low;
    s.shift = shift;
    add(range.row, s.y_high - s.y_low + shift);
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
void BasicBandSolver<Width>::direction(Program const& program, std::vector<double> const& x) {
  right_hand_side(program, x);
  back_substitute();
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    TermState const& t = terms_[k];
    double const move = value(program.terms[k].row, dx_);
    double const dl = t.weight * (move + t.shift);
    d_lambda_[k] = dl;
    d_p_[k] = (t.rp + t.p * dl) / (1 - lambda_[k]);
    d_q_[k] = (t.rq - t.q * dl) / (1 + lambda_[k]);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    auto const& range = program.ranges[j];
    RangeState const& s = ranges_[j];
    double const v = value(range.row, x);
    double const move = value(range.row, dx_);
    if (s.has_high) {
      double const gap = v + s.s_high - range.high;
      d_s_high_[j] = -gap - move;
      d_y_high_[j] = (s.r_high + s.y_high * (gap + move)) / s.s_high;
    }
    if (s.has_low) {
      double const gap = v - s.s_low - range.low;
      d_s_low_[j] = gap + move;
      d_y_low_[j] = (s.r_low - s.y_low * (gap + move)) / s.s_low;
    }
  }
}

template <std::size_t Width>
typename BasicBandSolver<Width>::StepLengths BasicBandSolver<Width>::longest_step() const {
  double primal = 1 / to_boundary, dual = 1 / to_boundary;
  for (std::size_t k = 0; k < terms_.size(); ++k) {
    primal = shrink(primal, terms_[k].p, d_p_[k]);
    primal = shrink(primal, terms_[k].q, d_q_[k]);
    dual = shrink(dual, 1 - lambda_[k], -d_lambda_[k]);
    dual = shrink(dual, 1 + lambda_[k], d_lambda_[k]);
  }
  for (std::size_t j = 0; j < ranges_.size(); ++j) {
    RangeState const& s = ranges_[j];
    if (s.has_low) {
      primal = shrink(primal, s.s_low, d_s_low_[j]);
      dual = shrink(dual, s.y_low, d_y_low_[j]);
    }
    if (s.has_high) {
      primal = shrink(primal, s.s_high, d_s_high_[j]);
      dual = shrink(dual, s.y_high, d_y_high_[j]);
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
    double const v = value(program.ranges[j].row, x);
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
    targets(program, 0, false);
    direction(program, x);
    double const affine =
        complementarity(longest_step()) / static_cast<double>(complementarity_pairs_);
    double const ratio = affine / mu;
    targets(program, mu * ratio * ratio * ratio, true);
    direction(program, x);
    StepLengths step = longest_step();
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
