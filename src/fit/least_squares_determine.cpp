// SPDX-License-Identifier: MIT
// What a Jacobian says about the parameters.
#include <Eigen/SVD>
#include <algorithm>
#include <cmath>
#include <limits>

#include "meltlag/fit/least_squares.hpp"

namespace meltlag::fit {
namespace {

constexpr double takes_part = 0.05;  // least weight in a direction that is worth a word

std::string words_for(Eigen::VectorXd const& direction, std::vector<std::string> const& names) {
  std::vector<Eigen::Index> order;
  for (Eigen::Index j = 0; j < direction.size(); ++j) {
    if (std::abs(direction[j]) >= takes_part) order.push_back(j);
  }
  std::sort(order.begin(), order.end(), [&](Eigen::Index a, Eigen::Index b) {
    return std::abs(direction[a]) > std::abs(direction[b]);
  });
  std::string words;
  for (std::size_t k = 0; k < order.size(); ++k) {
    words += k == 0 ? "" : k == 1 ? " together with " : ", ";
    words += names[static_cast<std::size_t>(order[k])];
  }
  return words;
}

// Inverse of JᵀJ on the directions that J determines, and those that it does not. The columns are
// the parameters `asked`, none of them 0.
void invert(Eigen::MatrixXd scaled,
            std::vector<Eigen::Index> const& asked,
            double rank_tolerance,
            Determination& out) {
  Eigen::Index const n = out.covariance.rows();
  Eigen::VectorXd const back = scaled.colwise().norm().cwiseInverse().transpose();
  scaled = scaled * back.asDiagonal();
  // Fewer rows than columns: rows of zeros, so that all right singular vectors come out.
  if (scaled.rows() < scaled.cols()) {
    scaled.conservativeResizeLike(Eigen::MatrixXd::Zero(scaled.cols(), scaled.cols()));
  }
  Eigen::JacobiSVD<Eigen::MatrixXd> const svd(scaled, Eigen::ComputeThinU | Eigen::ComputeThinV);
  Eigen::VectorXd const& values = svd.singularValues();
  Eigen::MatrixXd inverse = Eigen::MatrixXd::Zero(scaled.cols(), scaled.cols());
  for (Eigen::Index k = 0; k < values.size(); ++k) {
    Eigen::VectorXd const v = svd.matrixV().col(k);
    if (values[k] > rank_tolerance * values[0]) {
      inverse += v * v.transpose() / (values[k] * values[k]);
      ++out.rank;
    } else {
      Eigen::VectorXd direction = Eigen::VectorXd::Zero(n);
      direction(asked) = v;
      out.undetermined.push_back({std::move(direction), {}});
    }
  }
  out.covariance(asked, asked) = back.asDiagonal() * inverse * back.asDiagonal();
}

Eigen::MatrixXd correlations(Determination const& d) {
  Eigen::Index const n = d.covariance.rows();
  Eigen::MatrixXd out = Eigen::MatrixXd::Identity(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    for (Eigen::Index j = 0; j < n; ++j) {
      double const scale = d.deviation[i] * d.deviation[j];
      bool const defined = scale > 0 && std::isfinite(scale);
      if (i != j) out(i, j) = defined ? d.covariance(i, j) / scale : 0;
    }
  }
  return out;
}

}  // namespace

Determination determine(Eigen::MatrixXd const& jacobian,
                        std::vector<std::string> const& names,
                        double rank_tolerance,
                        std::vector<bool> const& held) {
  Eigen::Index const n = jacobian.cols();
  Determination out;
  out.covariance = Eigen::MatrixXd::Zero(n, n);
  std::vector<Eigen::Index> asked;
  for (Eigen::Index j = 0; j < n; ++j) {
    if (!held.empty() && held[static_cast<std::size_t>(j)]) continue;
    if (jacobian.col(j).norm() > 0) {
      asked.push_back(j);
    } else {
      out.undetermined.push_back({Eigen::VectorXd::Unit(n, j), {}});
    }
  }
  if (!asked.empty()) invert(jacobian(Eigen::all, asked), asked, rank_tolerance, out);
  for (Undetermined& u : out.undetermined) {
    u.words = words_for(u.direction, names);
    for (Eigen::Index j = 0; j < n; ++j) {
      if (std::abs(u.direction[j]) < takes_part) continue;
      out.covariance.row(j).setZero();
      out.covariance.col(j).setZero();
      out.covariance(j, j) = std::numeric_limits<double>::infinity();
    }
  }
  out.deviation = out.covariance.diagonal().cwiseSqrt();
  out.correlation = correlations(out);
  return out;
}

}  // namespace meltlag::fit
