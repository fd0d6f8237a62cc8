// SPDX-License-Identifier: MIT
// Nonlinear least squares with names, bounds, robust losses and honest uncertainties.
//
//   minimise  ½ Σ_i ρ(r_i(p)²)    subject to  lower ≤ p ≤ upper
//
// n parameters, m residuals. Nothing here knows what the parameters mean; it never prints.
#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

namespace meltlag::fit {

struct LeastSquaresProblem {
  std::vector<std::string> names;  // n, used in words about the result
  Eigen::VectorXd start;           // n; moved into the bounds where it lies outside
  // n entries or empty (no bounds); may be infinite. A parameter with lower = upper is held.
  Eigen::VectorXd lower = {}, upper = {};
  // n entries > 0 or empty (|start|, 1 where that is 0): a magnitude that matters for each
  // parameter, so that difference steps stay sensible where a parameter passes 0.
  Eigen::VectorXd typical = {};
  // p → r, m entries always. An entry that is not finite marks a p that cannot be evaluated.
  std::function<Eigen::VectorXd(Eigen::VectorXd const&)> residuals;
  // p → dr/dp, m × n; without it central differences are taken: 2 n evaluations.
  std::function<Eigen::MatrixXd(Eigen::VectorXd const&)> jacobian = {};
};

// ρ(s) with c = loss_scale:  none s;  huber s up to c², then 2c√s − c²;  cauchy c² log(1 + s/c²);
// tukey c²/3·(1 − (1 − s/c²)³), constant beyond c². tukey starts from a huber solution.
enum class Loss : std::uint8_t { none, huber, cauchy, tukey };

// known: the residuals are in units of their standard deviations. estimated: these are unknown but
// for a common factor, which the scatter of the residuals tells.
enum class ResidualScale : std::uint8_t { known, estimated };

// damped: Levenberg–Marquardt. dogleg: Powell's dogleg. Both begin with nearly full Gauss–Newton
// steps, which from a far-off start may leap onto a plateau. several: damped, damped with a timid
// first step, and dogleg with a short first radius; the lowest minimum is kept.
enum class Descent : std::uint8_t { damped, dogleg, several };

struct LeastSquaresSettings {
  Loss loss = Loss::none;
  double loss_scale = 1;  // c > 0, in the residuals' unit
  ResidualScale residual_scale = ResidualScale::known;
  Descent descent = Descent::damped;
  int most_iterations = 1000;
  double function_tolerance = 1e-15;   // ends where |Δ cost| ≤ function_tolerance · cost
  double gradient_tolerance = 1e-14;   // … or max |gradient| ≤ gradient_tolerance
  double parameter_tolerance = 1e-13;  // … or |Δp| ≤ parameter_tolerance · |p|
  double step_share = 6e-6;            // difference step h = step_share · max(|p|, typical/1000)
  // A direction is undetermined where its singular value ≤ rank_tolerance · the largest one, all
  // columns of the Jacobian scaled to length 1.
  double rank_tolerance = 1e-7;
};

enum class FitStatus : std::uint8_t {
  converged,
  step_limit,      // the best point so far
  bad_start,       // the residuals cannot be evaluated at the start
  nothing_to_fit,  // no free parameter or no residual
  failed,          // the linear algebra broke down
};
[[nodiscard]] char const* words_of(FitStatus status);

// A combination of parameters that the residuals do not respond to.
struct Undetermined {
  Eigen::VectorXd direction;  // n, in units of each parameter's own effect; length 1
  std::string words;          // "backlash_mm" or "backlash_mm together with reverse_factor"
};

// What a Jacobian says about the parameters.
struct Determination {
  Eigen::Index rank = 0;
  std::vector<Undetermined> undetermined;
  // n × n. Rows and columns of held parameters are 0; those that take part in an undetermined
  // direction have an infinite variance and no covariance.
  Eigen::MatrixXd covariance;
  Eigen::MatrixXd correlation;  // n × n, 1 on the diagonal; 0 where it is not defined
  Eigen::VectorXd deviation;    // n, square roots of the variances
};

// (JᵀJ)⁻¹ of a Jacobian of weighted residuals (m × n), by singular values. A column that is 0
// belongs to an undetermined parameter; `held` (n or empty) marks those not asked for.
[[nodiscard]] Determination determine(Eigen::MatrixXd const& jacobian,
                                      std::vector<std::string> const& names,
                                      double rank_tolerance,
                                      std::vector<bool> const& held = {});

struct LeastSquaresResult {
  FitStatus status = FitStatus::failed;
  std::string message;                         // how it ended, in words
  int iterations = 0;                          // of the descent that was kept
  std::size_t evaluations = 0;                 // of the residuals, all in all
  Eigen::VectorXd parameters;                  // n
  std::vector<bool> held, at_lower, at_upper;  // n; at_*: the bound keeps the parameter there
  double cost = 0;                             // ½ Σ ρ(r²)
  double sum_of_squares = 0;                   // Σ r²
  // Weighted residual standard deviation: √(Σ r²/(m − n)) without a loss. NaN for m ≤ n.
  double residual_deviation = 0;
  Eigen::VectorXd residuals;  // m, at the parameters
  Eigen::VectorXd weights;    // m, ρ'(r²): 1 = taken fully, 0 = left out as an outlier
  Eigen::MatrixXd jacobian;   // m × n, at the parameters
  // Of the free parameters that no bound keeps: the others count as held here.
  //   known:      (JᵀWJ)⁻¹, W = diag(weights)
  //   estimated:  κ·(JᵀWJ)⁻¹, κ = Σ ψ²/(m − n) · mean(ρ')/mean(ψ')², ψ = r·ρ'; without a loss this
  //               is s²(JᵀJ)⁻¹. After Huber, Robust Statistics (1981), chapter 7 (from memory).
  Determination determination;
};

// Throws std::invalid_argument where the shapes of the problem do not agree.
[[nodiscard]] LeastSquaresResult solve_least_squares(LeastSquaresProblem const& problem,
                                                     LeastSquaresSettings const& settings = {});

struct ManyStartsResult {
  LeastSquaresResult best;
  std::size_t starts = 0;    // tried
  std::size_t agreeing = 0;  // ended at the best cost, to 1e-6 of it
};

// Solves from each start (n entries each; problem.start is not used) and keeps the lowest cost. The
// first of equals wins, so the outcome does not depend on rounding between equal minima.
[[nodiscard]] ManyStartsResult solve_from_many(LeastSquaresProblem const& problem,
                                               std::vector<Eigen::VectorXd> const& starts,
                                               LeastSquaresSettings const& settings = {});

}  // namespace meltlag::fit
