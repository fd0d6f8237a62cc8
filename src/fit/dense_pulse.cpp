// SPDX-License-Identifier: MIT
#include "dense_pulse.hpp"

#include <Eigen/Cholesky>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>
#include <numbers>

namespace meltlag::fit {
namespace {

constexpr double small_share = 0.01;

}  // namespace

TurnPulse fit_pulse(DenseModel const& model,
                    LeastSquaresResult const& found,
                    double e_mm_per_turn) {
  auto const rows = static_cast<Eigen::Index>(model.rows());
  Eigen::VectorXd const& at = found.parameters;
  Eigen::Index const had = found.jacobian.cols(), all = found.jacobian.rows();
  Eigen::MatrixXd jacobian = Eigen::MatrixXd::Zero(all, had + 2);
  jacobian.leftCols(had) = found.jacobian;
  reading::TestedPlant plant = model.plant(at);
  plant.e_mm_per_turn = e_mm_per_turn;
  Eigen::VectorXd const here = model.residuals_of(plant, at);
  for (Eigen::Index k = 0; k < 2; ++k) {
    plant.pulse_cos = k == 0 ? small_share : 0;
    plant.pulse_sin = k == 1 ? small_share : 0;
    jacobian.col(had + k).head(rows) = (model.residuals_of(plant, at) - here) / small_share;
  }
  Eigen::MatrixXd const weighted = found.weights.asDiagonal() * jacobian;
  Eigen::MatrixXd const inverse =
      (jacobian.transpose() * weighted).ldlt().solve(Eigen::MatrixXd::Identity(had + 2, had + 2));
  Eigen::VectorXd const step = -inverse * (weighted.transpose() * found.residuals);
  double const freedom = std::max(1.0, found.weights.head(rows).sum() - static_cast<double>(had));
  Eigen::VectorXd const left = found.residuals + jacobian * step;
  double const variance =
      std::max(1.0, left.cwiseAbs2().cwiseProduct(found.weights).head(rows).sum() / freedom);
  Eigen::Vector2d const pulse = step.tail<2>();
  Eigen::Matrix2d const covariance = variance * inverse.bottomRightCorner<2, 2>();
  TurnPulse out;
  out.e_mm_per_turn = e_mm_per_turn;
  out.share = {pulse.norm(), std::sqrt(covariance.trace() / 2)};
  double const turn = std::atan2(pulse[1], pulse[0]) / (2 * std::numbers::pi);
  out.most_at_turn = turn - std::floor(turn);
  double const f = pulse.dot(covariance.ldlt().solve(pulse)) / 2;
  out.chance = boost::math::cdf(
      boost::math::complement(boost::math::fisher_f(2, freedom), std::max(0.0, f)));
  return out;
}

}  // namespace meltlag::fit
