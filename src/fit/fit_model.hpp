// SPDX-License-Identifier: MIT
// The fit's unknowns and residuals.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/fit/fit.hpp"
#include "meltlag/fit/least_squares.hpp"

namespace meltlag::fit {

// What is plausible before anything was measured: mean and standard deviation.
struct Beforehand {
  static constexpr double log_run_on = 0.693, log_run_on_sd = 1.6;  // ln mm³, at 5 mm³/s
  static constexpr double flow_mm3_s = 5;
  static constexpr double index = 0.65, index_sd = 0.3;
  static constexpr double log_factor_sd = 0.2;
};

// Which unknowns a fit has, and where each stands in the vector:
// ln S, n, ln factor, the extras' values, one height a trace.
class Unknowns {
 public:
  Unknowns(FitOptions const& options,
           double reference_flow_mm3_s,
           std::vector<std::string> traces,
           std::vector<Extra> extras);

  static constexpr Eigen::Index log_run_on = 0, index = 1, log_factor = 2, first_extra = 3;
  [[nodiscard]] Eigen::Index size() const {
    return first_height() + static_cast<Eigen::Index>(traces_.size());
  }
  [[nodiscard]] Eigen::Index first_height() const { return first_height_; }
  [[nodiscard]] Eigen::Index height_of(std::string const& trace) const;
  [[nodiscard]] Eigen::Index place_of(Extra extra) const;  // of its first value
  [[nodiscard]] std::vector<Extra> const& extras() const { return extras_; }
  [[nodiscard]] std::vector<std::string> const& traces() const { return traces_; }
  [[nodiscard]] double reference_flow_mm3_s() const { return reference_flow_mm3_s_; }

  // Names, start, bounds and typical sizes.
  void describe(LeastSquaresProblem& problem) const;
  [[nodiscard]] Eigen::VectorXd start(double run_on_mm3, double flow_index) const;
  [[nodiscard]] reading::TestedPlant plant(Eigen::VectorXd const& at) const;
  // Residuals of what is known beforehand, appended to those of the readings, and their count.
  [[nodiscard]] Eigen::Index prior_count() const {
    return 3 + static_cast<Eigen::Index>(traces_.size());
  }
  void add_priors(Eigen::VectorXd const& at, Eigen::VectorXd& residuals, Eigen::Index row) const;

 private:
  FitOptions options_;
  double reference_flow_mm3_s_;
  std::vector<std::string> traces_;
  std::vector<Extra> extras_;
  Eigen::Index first_height_;
};

// The readings as residuals: (measured − predicted) / sd. The standard deviations are those at
// `settle`'s last point, so that least squares does not gain by choosing places that scatter.
class Residuals {
 public:
  Residuals(reading::Predictor const& predictor,
            std::vector<reading::Reading> const& readings,
            Unknowns const& unknowns);

  void settle(Eigen::VectorXd const& at);  // takes the standard deviations there
  void leave_out(std::vector<bool> rows) { left_out_ = std::move(rows); }
  [[nodiscard]] Eigen::VectorXd operator()(Eigen::VectorXd const& at) const;
  [[nodiscard]] Eigen::MatrixXd jacobian(Eigen::VectorXd const& at) const;
  [[nodiscard]] std::vector<reading::Predicted> predict(Eigen::VectorXd const& at) const;

 private:
  [[nodiscard]] std::vector<Eigen::VectorXd> moved_from(Eigen::VectorXd const& at) const;
  [[nodiscard]] std::vector<reading::Laid> simulate(
      std::vector<Eigen::VectorXd> const& moved) const;
  [[nodiscard]] reading::Laid const& laid(Eigen::VectorXd const& at) const;
  [[nodiscard]] double height(Eigen::VectorXd const& at, std::size_t row) const;
  [[nodiscard]] Eigen::VectorXd values(reading::Laid const& laid, Eigen::VectorXd const& at) const;

  reading::Predictor const& predictor_;
  std::vector<reading::Reading> const& readings_;
  Unknowns const& unknowns_;
  Eigen::VectorXd sd_;
  std::vector<bool> left_out_;
  // The last machine simulated: heights alone do not ask for another.
  mutable Eigen::VectorXd cached_at_;
  mutable reading::Laid cached_;
};

inline constexpr double undetermined_share = 0.8;  // of what was held plausible beforehand

}  // namespace meltlag::fit
