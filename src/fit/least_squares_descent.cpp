// SPDX-License-Identifier: MIT
#include "least_squares_descent.hpp"

#include <ceres/cost_function.h>
#include <ceres/evaluation_callback.h>
#include <ceres/loss_function.h>
#include <ceres/problem.h>
#include <ceres/solver.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace meltlag::fit {
namespace {

// Central differences; one-sided where a bound is in the way. Held columns stay 0.
Eigen::MatrixXd differences(Complete const& c, Eigen::VectorXd const& p, Eigen::Index m) {
  Eigen::MatrixXd jacobian = Eigen::MatrixXd::Zero(m, c.n);
  Eigen::VectorXd moved = p;
  for (Eigen::Index const j : c.free) {
    double const h = c.settings.step_share * std::max(std::abs(p[j]), c.typical[j] / 1000);
    double const low = std::max(p[j] - h, c.lower[j]), high = std::min(p[j] + h, c.upper[j]);
    moved[j] = high;
    jacobian.col(j) = c.residuals(moved);
    moved[j] = low;
    jacobian.col(j) = (jacobian.col(j) - c.residuals(moved)) / (high - low);
    moved[j] = p[j];
  }
  return jacobian;
}

}  // namespace

Eigen::MatrixXd jacobian_at(Complete const& c, Eigen::VectorXd const& p, Eigen::Index m) {
  if (!c.problem.jacobian) return differences(c, p, m);
  Eigen::MatrixXd jacobian = c.problem.jacobian(p);
  if (jacobian.rows() != m || jacobian.cols() != c.n) {
    throw std::invalid_argument("least squares: the Jacobian has a wrong shape");
  }
  return jacobian;
}

std::unique_ptr<ceres::LossFunction> make_loss(Loss loss, double scale) {
  switch (loss) {
    case Loss::huber:
      return std::make_unique<ceres::HuberLoss>(scale);
    case Loss::cauchy:
      return std::make_unique<ceres::CauchyLoss>(scale);
    case Loss::tukey:
      return std::make_unique<ceres::TukeyLoss>(scale);
    case Loss::none:
      break;
  }
  return std::make_unique<ceres::TrivialLoss>();
}

namespace {

// All residuals come from one call, while losses act on each alone: the solver announces a point
// here, then asks row by row.
class Evaluation : public ceres::EvaluationCallback {
 public:
  Evaluation(Complete const& c, double const* block, Eigen::Index m)
      : c_(c), block_(block), m_(m), point_(c.start) {}

  void PrepareForEvaluation(bool with_jacobian, bool new_point) override {
    if (new_point || residuals_.size() == 0) {
      for (std::size_t k = 0; k < c_.free.size(); ++k) point_[c_.free[k]] = block_[k];
      residuals_ = c_.residuals(point_);
      usable_ = residuals_.size() == m_ && residuals_.allFinite();
      jacobian_.resize(0, 0);
    }
    if (with_jacobian && usable_ && jacobian_.size() == 0) {
      jacobian_ = jacobian_at(c_, point_, m_);
      usable_ = jacobian_.allFinite();
    }
  }

  bool row(Eigen::Index i, double* residual, double* slopes) const {
    if (!usable_) return false;
    *residual = residuals_[i];
    for (std::size_t k = 0; slopes != nullptr && k < c_.free.size(); ++k) {
      slopes[k] = jacobian_(i, c_.free[k]);
    }
    return true;
  }

 private:
  Complete const& c_;
  double const* block_;
  Eigen::Index m_;
  Eigen::VectorXd point_, residuals_;
  Eigen::MatrixXd jacobian_;
  bool usable_ = false;
};

class Row : public ceres::CostFunction {
 public:
  Row(Evaluation const& all, Eigen::Index i, std::size_t free) : all_(all), i_(i) {
    set_num_residuals(1);
    mutable_parameter_block_sizes()->push_back(static_cast<std::int32_t>(free));
  }
  bool Evaluate(double const* const*, double* residual, double** slopes) const override {
    return all_.row(i_, residual, slopes != nullptr ? slopes[0] : nullptr);
  }

 private:
  Evaluation const& all_;
  Eigen::Index i_;
};

// A way down and how bold its first step is: 1 / radius is the damping relative to the squared
// lengths of the Jacobian's columns.
struct Way {
  ceres::TrustRegionStrategyType type;
  double first_radius;
};
constexpr Way bold_damped{ceres::LEVENBERG_MARQUARDT, 1e4};
constexpr Way cautious_damped{ceres::LEVENBERG_MARQUARDT, 1e-4};
constexpr Way bold_dogleg{ceres::DOGLEG, 1e4};
constexpr Way cautious_dogleg{ceres::DOGLEG, 1};

std::vector<Way> ways_of(Descent descent) {
  if (descent == Descent::damped) return {bold_damped};
  if (descent == Descent::dogleg) return {bold_dogleg};
  return {bold_damped, cautious_damped, cautious_dogleg};
}

ceres::Solver::Options options_for(LeastSquaresSettings const& settings, Way way) {
  ceres::Solver::Options options;
  options.minimizer_progress_to_stdout = false;
  options.logging_type = ceres::SILENT;
  options.linear_solver_type = ceres::DENSE_QR;
  options.num_threads = 1;
  options.trust_region_strategy_type = way.type;
  options.initial_trust_region_radius = way.first_radius;
  options.max_num_iterations = settings.most_iterations;
  options.max_num_consecutive_invalid_steps = 50;
  options.function_tolerance = settings.function_tolerance;
  options.gradient_tolerance = settings.gradient_tolerance;
  options.parameter_tolerance = settings.parameter_tolerance;
  return options;
}

FitStatus status_of(ceres::TerminationType type) {
  if (type == ceres::CONVERGENCE) return FitStatus::converged;
  return type == ceres::NO_CONVERGENCE ? FitStatus::step_limit : FitStatus::failed;
}

Descended go(Complete const& c, Eigen::VectorXd const& from, Loss loss, Way way, Eigen::Index m) {
  std::vector<double> block;
  for (Eigen::Index const j : c.free) block.push_back(from[j]);
  Evaluation evaluation(c, block.data(), m);
  auto const rho = make_loss(loss, c.settings.loss_scale);
  ceres::Problem::Options owning;
  owning.loss_function_ownership = ceres::DO_NOT_TAKE_OWNERSHIP;
  owning.evaluation_callback = &evaluation;
  ceres::Problem problem(owning);
  problem.AddParameterBlock(block.data(), static_cast<int>(block.size()));
  for (std::size_t k = 0; k < block.size(); ++k) {
    int const at = static_cast<int>(k);
    double const low = c.lower[c.free[k]], high = c.upper[c.free[k]];
    if (std::isfinite(low)) problem.SetParameterLowerBound(block.data(), at, low);
    if (std::isfinite(high)) problem.SetParameterUpperBound(block.data(), at, high);
  }
  for (Eigen::Index i = 0; i < m; ++i) {
    problem.AddResidualBlock(new Row(evaluation, i, block.size()), rho.get(), block.data());
  }
  ceres::Solver::Summary summary;
  ceres::Solve(options_for(c.settings, way), &problem, &summary);
  Descended out{from, status_of(summary.termination_type), summary.message, summary.final_cost, 0};
  for (std::size_t k = 0; k < block.size(); ++k) out.point[c.free[k]] = block[k];
  out.iterations = static_cast<int>(summary.iterations.size()) - 1;
  return out;
}

Descended lower_of(Descended a, Descended b) {
  bool const second =
      a.message.empty() || (b.status != FitStatus::failed &&
                            (a.status == FitStatus::failed || b.cost < a.cost * (1 - 1e-12)));
  return second ? std::move(b) : std::move(a);
}

}  // namespace

Descended descend(Complete const& c, Eigen::VectorXd const& from, Loss loss, Eigen::Index m) {
  Descended best;
  best.point = from;
  for (Way const way : ways_of(c.settings.descent)) {
    best = lower_of(std::move(best), go(c, from, loss, way, m));
  }
  return best;
}

}  // namespace meltlag::fit
