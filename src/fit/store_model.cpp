// SPDX-License-Identifier: MIT
#include "store_model.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace meltlag::fit {
namespace {

StoreParameters parameters_of(Eigen::VectorXd const& p) { return {p[0], p[1], p[2]}; }

struct Prior {
  double value, sd;
};

Prior factor_prior(testpiece::StoreKnowledge const& known) {
  double const f = known.delivered_factor;
  return {f, known.delivered_factor_sd.value_or(unknown_share_sd * f)};
}

Prior flow_prior(testpiece::StoreKnowledge const& known) {
  double const q = known.max_flow_mm3_s;
  return {q, known.max_flow_sd_mm3_s.value_or(unknown_share_sd * q)};
}

double cup_sd(StoreDatum const& datum, double scatter) {
  return std::hypot(scatter * datum.share, datum.scale_sd);
}

}  // namespace

double excess_mm3(testpiece::StoreCup const& cup, double delivered_factor, double max_flow_mm3_s) {
  double const above = delivered_factor * cup.burst_mm3_s - max_flow_mm3_s;
  if (cup.burst_s <= 0 || above <= 0) return 0;
  return above * cup.burst_s + above * above / (delivered_factor * cup.rise_mm3_s2);
}

double modelled_share(testpiece::StoreCup const& cup, StoreParameters const& p) {
  double const excess = excess_mm3(cup, p.delivered_factor, p.max_flow_mm3_s);
  return p.delivered_factor - cup.bursts * std::max(0.0, excess - p.burst_mm3) / cup.commanded_mm3;
}

Eigen::RowVector3d share_slopes(testpiece::StoreCup const& cup, StoreParameters const& p) {
  double const f = p.delivered_factor, above = f * cup.burst_mm3_s - p.max_flow_mm3_s;
  if (excess_mm3(cup, f, p.max_flow_mm3_s) <= p.burst_mm3) return {0, 1, 0};
  double const seconds = cup.burst_s + 2 * above / (f * cup.rise_mm3_s2);  // d excess / d above
  double const by_factor = cup.burst_mm3_s * seconds - above * above / (f * f * cup.rise_mm3_s2);
  double const each = cup.bursts / cup.commanded_mm3;
  return {each, 1 - each * by_factor, each * seconds};
}

double scale_share_sd(double share, double mass_g, double scale_g) {
  return share * scale_g / std::sqrt(6.0) / mass_g;
}

LeastSquaresProblem store_problem(std::span<StoreDatum const> data,
                                  testpiece::StoreKnowledge const& known,
                                  double scatter,
                                  double most_mm3,
                                  std::optional<double> hold_burst) {
  auto const rows = static_cast<Eigen::Index>(data.size());
  Prior const f = factor_prior(known), q = flow_prior(known);
  LeastSquaresProblem problem{.names = {"burst_mm3", "delivered_factor", "max_flow_mm3_s"},
                              .start = Eigen::Vector3d(hold_burst.value_or(1), f.value, q.value),
                              .residuals = {}};
  constexpr double no_bound = std::numeric_limits<double>::infinity();
  problem.lower = Eigen::Vector3d(hold_burst.value_or(0), f.value / 3, q.value / 3);
  problem.upper = Eigen::Vector3d(hold_burst.value_or(most_mm3), no_bound, no_bound);
  problem.typical = Eigen::Vector3d(1, f.value, q.value);
  std::vector<StoreDatum> const own(data.begin(), data.end());
  problem.residuals = [=](Eigen::VectorXd const& p) {
    Eigen::VectorXd r(rows + 2);
    for (Eigen::Index i = 0; i < rows; ++i) {
      StoreDatum const& datum = own[static_cast<std::size_t>(i)];
      r[i] = (modelled_share(datum.cup, parameters_of(p)) - datum.share) / cup_sd(datum, scatter);
    }
    r[rows] = (p[1] - f.value) / f.sd;
    r[rows + 1] = (p[2] - q.value) / q.sd;
    return r;
  };
  problem.jacobian = [=](Eigen::VectorXd const& p) {
    Eigen::MatrixXd slopes = Eigen::MatrixXd::Zero(rows + 2, 3);
    for (Eigen::Index i = 0; i < rows; ++i) {
      StoreDatum const& datum = own[static_cast<std::size_t>(i)];
      slopes.row(i) = share_slopes(datum.cup, parameters_of(p)) / cup_sd(datum, scatter);
    }
    slopes(rows, 1) = 1 / f.sd;
    slopes(rows + 1, 2) = 1 / q.sd;
    return slopes;
  };
  return problem;
}

}  // namespace meltlag::fit
