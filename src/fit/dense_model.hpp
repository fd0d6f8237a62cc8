// SPDX-License-Identifier: MIT
// Unknowns and residuals of the dense fit.
#pragma once

#include <Eigen/Core>
#include <cmath>
#include <optional>
#include <vector>

#include "fit_model.hpp"

namespace meltlag::fit {

class DenseModel {
 public:
  static constexpr Eigen::Index height = Unknowns::first_extra, slope_x = height + 1,
                                slope_y = height + 2, bow = height + 3, offset = height + 4,
                                first_harmonic = height + 5, second_harmonic = height + 7,
                                mouth = height + 9, turn = height + 10, size = height + 11;
  static constexpr double out_mm = 90;  // where slopes and bow are told

  // `readings`: widths alone, along the path. Heights are told from `middle`, else from theirs.
  DenseModel(reading::PrintedPath const& path,
             std::vector<reading::Reading> const& readings,
             FitOptions const& options,
             double reference_flow_mm3_s,
             std::optional<Vec3> middle = {});

  void describe(LeastSquaresProblem& problem) const;
  [[nodiscard]] Eigen::VectorXd start(double run_on_mm3, double flow_index) const;

  // Errors are the sum of each reading's own (`scale` times its ±) and of one that wanders along
  // the path: of sd `wander_mm`, alike as exp(−way/alike_mm).
  struct Errors {
    double scale = 1, wander_mm = 0, alike_mm = 10;
  };
  // `at`: where widths change fast along the way, which makes errors of the place count.
  void set_errors(Errors const& errors, Eigen::VectorXd const& at);
  [[nodiscard]] Errors const& errors() const { return errors_; }

  // Each reading less what the ones before it tell of the wandering error, in units of what is left
  // to chance (the innovations of a Kalman filter of one state); then those of what is known
  // beforehand.
  [[nodiscard]] Eigen::VectorXd residuals(Eigen::VectorXd const& at) const;
  [[nodiscard]] Eigen::MatrixXd jacobian(Eigen::VectorXd const& at) const;
  [[nodiscard]] Vec3 middle() const { return middle_; }
  [[nodiscard]] double reference_flow_mm3_s() const { return unknowns_.reference_flow_mm3_s(); }
  // The machine at these unknowns, and the readings' residuals (the first rows() of them) where it
  // is another one in what is not among them.
  [[nodiscard]] reading::TestedPlant plant(Eigen::VectorXd const& at) const {
    return unknowns_.plant(at);
  }
  [[nodiscard]] Eigen::VectorXd residuals_of(reading::TestedPlant const& plant,
                                             Eigen::VectorXd const& at) const;
  // (predicted − measured), mm.
  [[nodiscard]] Eigen::VectorXd errors_mm(Eigen::VectorXd const& at) const;
  [[nodiscard]] double way_mm(std::size_t row) const { return rows_[row].way_mm; }
  [[nodiscard]] double sd_mm(std::size_t row) const { return rows_[row].sd_mm; }
  // Of a row's own error with `scale`, that of its place included.
  [[nodiscard]] double own_mm(std::size_t row) const {
    return std::hypot(errors_.scale * rows_[row].sd_mm, rows_[row].place_sd_mm);
  }
  [[nodiscard]] std::size_t rows() const { return rows_.size(); }

 private:
  struct Row {
    double way_mm, x, y, turn_rad, sd_mm;  // x, y in units of out_mm from the middle
    double place_sd_mm = 0;                // what an error of the place makes of the width
    [[nodiscard]] double out() const { return std::hypot(x, y); }
  };
  [[nodiscard]] double height_at(Eigen::VectorXd const& at, Row const& row) const;
  [[nodiscard]] static double offset_at(Eigen::VectorXd const& at, Row const& row);
  [[nodiscard]] reading::Laid const& laid(Eigen::VectorXd const& at) const;
  [[nodiscard]] Eigen::VectorXd errors_of(reading::Laid const& laid,
                                          Eigen::VectorXd const& at) const;
  [[nodiscard]] Eigen::VectorXd whitened(Eigen::VectorXd const& errors_mm,
                                         Eigen::VectorXd const& at) const;

  std::vector<reading::Reading> const& readings_;
  FitOptions options_;
  Unknowns unknowns_;
  reading::Predictor predictor_;
  Vec3 middle_;
  std::vector<Row> rows_;
  Errors errors_;
  mutable Eigen::VectorXd cached_at_;
  mutable reading::Laid cached_;
};

}  // namespace meltlag::fit
