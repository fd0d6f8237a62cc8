// SPDX-License-Identifier: MIT
#include "meltlag/fit/least_squares.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "least_squares_descent.hpp"

namespace meltlag::fit {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

Eigen::VectorXd or_all(Eigen::VectorXd const& given, Eigen::Index n, double value) {
  if (given.size() != 0 && given.size() != n) {
    throw std::invalid_argument("least squares: an entry for each parameter is needed");
  }
  return given.size() == n ? given : Eigen::VectorXd::Constant(n, value);
}

Complete complete(LeastSquaresProblem const& problem, LeastSquaresSettings const& settings) {
  Eigen::Index const n = problem.start.size();
  if (static_cast<Eigen::Index>(problem.names.size()) != n || !problem.residuals) {
    throw std::invalid_argument("least squares: names, start and residuals are needed");
  }
  Complete c{problem,
             settings,
             n,
             problem.start,
             or_all(problem.lower, n, -infinite),
             or_all(problem.upper, n, infinite),
             or_all(problem.typical, n, 0),
             {},
             {}};
  for (Eigen::Index j = 0; j < n; ++j) {
    if (!(c.lower[j] <= c.upper[j])) {
      throw std::invalid_argument("least squares: bounds of " +
                                  problem.names[static_cast<std::size_t>(j)] + " cross");
    }
    if (c.typical[j] <= 0) c.typical[j] = c.start[j] != 0 ? std::abs(c.start[j]) : 1;
    c.start[j] = std::clamp(c.start[j], c.lower[j], c.upper[j]);
    c.held.push_back(c.lower[j] == c.upper[j]);
    if (!c.held.back()) c.free.push_back(j);
  }
  return c;
}

// Which bounds keep their parameter: it lies there and the cost falls towards the outside.
void find_kept(Complete const& c, LeastSquaresResult& out) {
  Eigen::VectorXd const gradient =
      out.jacobian.transpose() * out.weights.cwiseProduct(out.residuals);
  for (Eigen::Index j = 0; j < c.n; ++j) {
    bool const held = c.held[static_cast<std::size_t>(j)];
    double const near = 1e-9 * std::max(std::abs(out.parameters[j]), c.typical[j]);
    out.at_lower.push_back(!held && out.parameters[j] - c.lower[j] <= near && gradient[j] > 0);
    out.at_upper.push_back(!held && c.upper[j] - out.parameters[j] <= near && gradient[j] < 0);
  }
}

// Residuals, weights, Jacobian and what they say, at the end of the descent.
void conclude(Complete const& c, LeastSquaresResult& out) {
  LeastSquaresSettings const& settings = c.settings;
  Eigen::Index const m = out.residuals.size();
  auto const rho = make_loss(settings.loss, settings.loss_scale);
  out.weights.resize(m);
  out.cost = 0;
  double psi_squares = 0, psi_slopes = 0;
  for (Eigen::Index i = 0; i < m; ++i) {
    double const s = out.residuals[i] * out.residuals[i];
    double parts[3];
    rho->Evaluate(s, parts);
    out.cost += parts[0] / 2;
    out.weights[i] = parts[1];
    psi_squares += s * parts[1] * parts[1];
    psi_slopes += parts[1] + 2 * s * parts[2];
  }
  out.sum_of_squares = out.residuals.squaredNorm();
  out.jacobian = jacobian_at(c, out.parameters, m);
  find_kept(c, out);
  std::vector<bool> held = c.held;
  for (std::size_t j = 0; j < held.size(); ++j) {
    held[j] = held[j] || out.at_lower[j] || out.at_upper[j];
  }
  double const spare = static_cast<double>(m - std::count(held.begin(), held.end(), false));
  double const unknown = std::numeric_limits<double>::quiet_NaN();
  out.residual_deviation = spare > 0 ? std::sqrt(psi_squares / spare) : unknown;
  Eigen::MatrixXd const weighted = out.weights.cwiseSqrt().asDiagonal() * out.jacobian;
  out.determination = determine(weighted, c.problem.names, settings.rank_tolerance, held);
  if (settings.residual_scale == ResidualScale::known) return;
  double const kappa =
      psi_squares / spare * out.weights.sum() * static_cast<double>(m) / (psi_slopes * psi_slopes);
  out.determination.covariance *= spare > 0 ? kappa : unknown;
  out.determination.deviation = out.determination.covariance.diagonal().cwiseSqrt();
}

}  // namespace

char const* words_of(FitStatus status) {
  switch (status) {
    case FitStatus::converged:
      return "converged";
    case FitStatus::step_limit:
      return "stopped at the limit of iterations";
    case FitStatus::bad_start:
      return "the start cannot be evaluated";
    case FitStatus::nothing_to_fit:
      return "nothing to fit";
    case FitStatus::failed:
      break;
  }
  return "failed";
}

LeastSquaresResult solve_least_squares(LeastSquaresProblem const& problem,
                                       LeastSquaresSettings const& settings) {
  Complete const c = complete(problem, settings);
  LeastSquaresResult out;
  out.parameters = c.start;
  out.held = c.held;
  out.residuals = c.residuals(c.start);
  Eigen::Index const m = out.residuals.size();
  if (m == 0 || !out.residuals.allFinite()) {
    out.status = m == 0 ? FitStatus::nothing_to_fit : FitStatus::bad_start;
    out.message = words_of(out.status);
    return out;
  }
  if (c.free.empty()) {
    out.status = FitStatus::nothing_to_fit;
    out.message = words_of(out.status);
  } else {
    Eigen::VectorXd from = c.start;
    if (settings.loss == Loss::tukey) from = descend(c, from, Loss::huber, m).point;
    Descended const end = descend(c, from, settings.loss, m);
    out.status = end.status;
    out.message = end.message;
    out.iterations = end.iterations;
    out.parameters = end.point;
    out.residuals = c.residuals(end.point);
  }
  conclude(c, out);
  out.evaluations = c.evaluations;
  return out;
}

ManyStartsResult solve_from_many(LeastSquaresProblem const& problem,
                                 std::vector<Eigen::VectorXd> const& starts,
                                 LeastSquaresSettings const& settings) {
  ManyStartsResult out;
  std::vector<double> costs;
  LeastSquaresProblem one = problem;
  for (Eigen::VectorXd const& start : starts) {
    one.start = start;
    LeastSquaresResult result = solve_least_squares(one, settings);
    bool const usable =
        result.status == FitStatus::converged || result.status == FitStatus::step_limit;
    if (usable) costs.push_back(result.cost);
    bool const none_yet = out.starts++ == 0 || out.best.residuals.size() == 0;
    bool const best_usable = costs.size() > (usable ? 1U : 0U);
    if (none_yet || (usable && (!best_usable || result.cost < out.best.cost * (1 - 1e-9)))) {
      out.best = std::move(result);
    }
  }
  for (double const cost : costs) {
    if (cost <= out.best.cost * (1 + 1e-6)) ++out.agreeing;
  }
  return out;
}

}  // namespace meltlag::fit
