// SPDX-License-Identifier: MIT
// The way down: from a complete problem to the lowest point reached.
#pragma once

#include <ceres/loss_function.h>

#include <limits>
#include <memory>

#include "meltlag/fit/least_squares.hpp"

namespace meltlag::fit {

// The problem with all optional parts filled in.
struct Complete {
  LeastSquaresProblem const& problem;
  LeastSquaresSettings const& settings;
  Eigen::Index n;
  Eigen::VectorXd start, lower, upper, typical;
  std::vector<bool> held;
  std::vector<Eigen::Index> free;
  mutable std::size_t evaluations = 0;

  [[nodiscard]] Eigen::VectorXd residuals(Eigen::VectorXd const& p) const {
    ++evaluations;
    return problem.residuals(p);
  }
};

// dr/dp at p, m rows: the caller's or by differences; columns of held parameters may be 0.
Eigen::MatrixXd jacobian_at(Complete const& c, Eigen::VectorXd const& p, Eigen::Index m);

std::unique_ptr<ceres::LossFunction> make_loss(Loss loss, double scale);

struct Descended {
  Eigen::VectorXd point;
  FitStatus status = FitStatus::failed;
  std::string message;
  double cost = std::numeric_limits<double>::infinity();
  int iterations = 0;
};

// By the ways that the settings ask for; at least one parameter must be free.
Descended descend(Complete const& c, Eigen::VectorXd const& from, Loss loss, Eigen::Index m);

}  // namespace meltlag::fit
