// SPDX-License-Identifier: MIT
#include "meltlag/fit/linear_fit.hpp"

#include <Eigen/Dense>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cassert>
#include <cmath>
#include <limits>

namespace meltlag::fit {
namespace {

constexpr double unbounded = std::numeric_limits<double>::infinity();

}  // namespace

double LinearFit::residual_sd() const {
  assert(freedom > 0);
  return std::sqrt(residual_squares / freedom);
}

LinearFit fit_linear(std::span<double const> y, std::span<std::vector<double> const> columns) {
  assert(y.size() > columns.size() && !columns.empty());
  auto const rows = static_cast<Eigen::Index>(y.size());
  auto const width = static_cast<Eigen::Index>(columns.size());
  Eigen::MatrixXd design(rows, width);
  for (Eigen::Index j = 0; j < width; ++j) {
    std::vector<double> const& column = columns[static_cast<std::size_t>(j)];
    assert(column.size() == y.size());
    design.col(j) = Eigen::Map<Eigen::VectorXd const>(column.data(), rows);
  }
  Eigen::Map<Eigen::VectorXd const> const values(y.data(), rows);
  Eigen::HouseholderQR<Eigen::MatrixXd> const qr(design);
  Eigen::VectorXd const solved = qr.solve(values);
  Eigen::MatrixXd const inverse = qr.matrixQR().topRows(width).triangularView<Eigen::Upper>().solve(
      Eigen::MatrixXd::Identity(width, width));

  LinearFit fit{.freedom = static_cast<int>(rows - width)};
  fit.residual_squares = (values - design * solved).squaredNorm();
  double const variance = fit.residual_squares / fit.freedom;
  for (Eigen::Index j = 0; j < width; ++j) {
    fit.coefficients.push_back(solved[j]);
    fit.standard_errors.push_back(std::sqrt(variance) * inverse.row(j).norm());
  }
  return fit;
}

Significance test_coefficient(LinearFit const& fit, std::size_t index) {
  double const value = fit.coefficients[index], error = fit.standard_errors[index];
  if (!(error > 0)) return {value == 0 ? 0 : unbounded, value == 0 ? 1.0 : 0.0};
  boost::math::students_t const law(fit.freedom);
  double const t = value / error;
  return {t, 2 * boost::math::cdf(boost::math::complement(law, std::abs(t)))};
}

Significance test_nested(LinearFit const& part, LinearFit const& full) {
  int const added = part.freedom - full.freedom;
  assert(added > 0);
  double const gained = std::max(0.0, part.residual_squares - full.residual_squares) / added;
  double const left = full.residual_squares / full.freedom;
  if (!(left > 0)) return {gained > 0 ? unbounded : 0, gained > 0 ? 0.0 : 1.0};
  boost::math::fisher_f const law(added, full.freedom);
  double const f = gained / left;
  return {f, boost::math::cdf(boost::math::complement(law, f))};
}

double t_of_95_percent(int freedom) {
  return boost::math::quantile(boost::math::students_t(freedom), 0.975);
}

SdFactors sd_factors_of_95_percent(int freedom) {
  boost::math::chi_squared const law(freedom);
  return {std::sqrt(freedom / boost::math::quantile(law, 0.975)),
          std::sqrt(freedom / boost::math::quantile(law, 0.025))};
}

}  // namespace meltlag::fit
