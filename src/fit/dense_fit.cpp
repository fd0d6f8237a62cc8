// SPDX-License-Identifier: MIT
#include "dense_fit.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "burst_fit.hpp"
#include "dense_model.hpp"
#include "dense_pulse.hpp"
#include "fit_lag.hpp"

namespace meltlag::fit {
namespace {

constexpr double dense_tukey =
    4.685;  // 95 % efficiency on normal errors (Huber, Robust Statistics)
constexpr double deviation_of_median = 1.4826;
constexpr double block_mm = 120;  // of path, whose errors are taken for independent of other blocks
constexpr int fit_rounds = 3;
constexpr double most_wander = 0.9;  // of the errors' variance

// Widths of beads that the lag law is to explain: neither the start, where nobody knows what the
// barrel holds, nor what asks for more than the screw feeds.
bool counts(reading::PrintedPath const& path, reading::Reading const& reading) {
  if (reading.kind != reading::ReadingKind::width || reading.length_mm <= 0) return false;
  reading::TraceMark const* const mark = path.mark_of(reading.lines.front());
  return mark != nullptr && mark->group != "lead-in" && mark->group != "burst";
}

std::vector<reading::Reading> counted_rows(reading::PrintedPath const& path,
                                           std::vector<reading::Reading> const& readings) {
  std::vector<reading::Reading> out;
  for (reading::Reading const& reading : readings)
    if (counts(path, reading)) out.push_back(reading);
  auto const way = [&](reading::Reading const& reading) {
    return path.moves[path.move_of_line.at(reading.lines.front())].way_mm + reading.at_mm.front();
  };
  std::stable_sort(
      out.begin(), out.end(), [&](reading::Reading const& a, reading::Reading const& b) {
        return way(a) < way(b);
      });
  return out;
}

double robust_scale(Eigen::VectorXd const& values) {
  std::vector<double> all;
  for (double const value : values) all.push_back(std::abs(value));
  auto const middle = all.begin() + static_cast<std::ptrdiff_t>(all.size() / 2);
  std::nth_element(all.begin(), middle, all.end());
  return std::max(1e-6, deviation_of_median * *middle);
}

// At least as large as both in every direction: with L Lᵀ = a, the eigenvalues of L⁻¹ b L⁻ᵀ that
// are below 1 become 1. What tells the lag lies in a few blocks of path, so that their scatter
// alone is at times too small by chance; what the model of errors says alone knows nothing of what
// is not in it.
Eigen::MatrixXd larger_of(Eigen::MatrixXd const& a, Eigen::MatrixXd const& b) {
  Eigen::MatrixXd const l = a.llt().matrixL();
  auto const lower = l.triangularView<Eigen::Lower>();
  Eigen::MatrixXd const half = lower.solve(b);
  Eigen::MatrixXd const whole = lower.solve(half.transpose());
  Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> const solver(
      Eigen::MatrixXd((whole + whole.transpose()) / 2));
  Eigen::MatrixXd const axes = l * solver.eigenvectors();
  return axes * solver.eigenvalues().cwiseMax(1).asDiagonal() * axes.transpose();
}

class DenseSearch {
 public:
  DenseSearch(reading::PrintedPath const& path,
              std::vector<reading::Reading> const& all,
              FitOptions const& options)
      : path_(path),
        all_(all),
        options_(options),
        rows_(counted_rows(path, all)),
        flows_(flows_of(path, rows_)),
        model_(path, rows_, options, flows_.middle) {
    outcome_.left_out =
        static_cast<int>(std::count_if(
            all.begin(),
            all.end(),
            [](reading::Reading const& r) { return r.kind == reading::ReadingKind::width; })) -
        static_cast<int>(rows_.size());
  }

  FitResult run() {
    Eigen::VectorXd at = best_start();
    for (int round = 0; round < fit_rounds; ++round) {
      settle_errors(at);
      solve(at);
      at = found_.parameters;
    }
    find_covariance();
    return fill();
  }

 private:
  [[nodiscard]] Eigen::VectorXd best_start() const {
    Eigen::VectorXd best;
    double least = std::numeric_limits<double>::infinity();
    for (double const run_on : {0.25, 0.8, 2.0, 4.5, 10.0})
      for (double const index : {0.35, 0.9}) {
        Eigen::VectorXd const at = model_.start(run_on, index);
        double const off = model_.errors_mm(at).cwiseAbs().cwiseMin(0.5).sum();
        if (off < least) {
          least = off;
          best = at;
        }
      }
    return best;
  }

  // From the errors at `at`: how much of them wanders, over what length, and what is each row's
  // own.
  void settle_errors(Eigen::VectorXd const& at) {
    Eigen::VectorXd errors = model_.errors_mm(at);
    double const scale = robust_scale(errors);
    errors = errors.cwiseMax(-3 * scale).cwiseMin(3 * scale);
    std::vector<Lag> const lags = covariances(errors);
    DenseModel::Errors found{.scale = 1, .wander_mm = 0, .alike_mm = 10};
    double least = std::numeric_limits<double>::infinity(), share = 0;
    for (double const alike : {3.0, 5.0, 8.0, 12.0, 20.0, 35.0, 60.0, 100.0}) {
      double up = 0, down = 1e-12, off = 0;
      for (Lag const& lag : lags) {
        double const model = std::exp(-lag.mm / alike);
        up += model * lag.covariance;
        down += model * model;
      }
      double const size = std::clamp(up / down, 0.0, most_wander * scale * scale);
      for (Lag const& lag : lags) {
        double const left = lag.covariance - size * std::exp(-lag.mm / alike);
        off += left * left;
      }
      if (off >= least) continue;
      least = off;
      share = size;
      found.alike_mm = alike;
    }
    found.wander_mm = std::sqrt(share);
    Eigen::VectorXd own = errors;
    for (Eigen::Index i = 0; i < own.size(); ++i)
      own[i] = model_.sd_mm(static_cast<std::size_t>(i));
    found.scale = std::sqrt(scale * scale - share) / robust_scale(own) * deviation_of_median;
    model_.set_errors(found, at);
  }

  // Mean product of errors that are so far apart.
  struct Lag {
    double mm, covariance;
  };
  [[nodiscard]] std::vector<Lag> covariances(Eigen::VectorXd const& errors) const {
    constexpr double bounds[] = {2, 4, 8, 14, 22, 34, 50};
    constexpr std::size_t bins = std::size(bounds) - 1;
    double products[bins] = {}, ways[bins] = {}, counts[bins] = {};
    for (Eigen::Index i = 0; i < errors.size(); ++i)
      for (Eigen::Index k = i + 1; k < errors.size(); ++k) {
        double const apart =
            model_.way_mm(static_cast<std::size_t>(k)) - model_.way_mm(static_cast<std::size_t>(i));
        if (apart >= bounds[bins]) break;
        auto const bin = static_cast<std::size_t>(
            std::upper_bound(std::begin(bounds), std::end(bounds), apart) - std::begin(bounds));
        if (bin == 0) continue;
        products[bin - 1] += errors[i] * errors[k];
        ways[bin - 1] += apart;
        ++counts[bin - 1];
      }
    std::vector<Lag> out;
    for (std::size_t b = 0; b < bins; ++b)
      if (counts[b] > 50) out.push_back({ways[b] / counts[b], products[b] / counts[b]});
    return out;
  }

  void solve(Eigen::VectorXd const& start) {
    LeastSquaresProblem problem;
    model_.describe(problem);
    problem.start = start;
    problem.residuals = [&](Eigen::VectorXd const& at) { return model_.residuals(at); };
    problem.jacobian = [&](Eigen::VectorXd const& at) { return model_.jacobian(at); };
    found_ = solve_least_squares(problem,
                                 {.loss = Loss::tukey,
                                  .loss_scale = dense_tukey,
                                  .most_iterations = 25,
                                  .function_tolerance = 1e-6,
                                  .gradient_tolerance = 1e-6,
                                  .parameter_tolerance = 1e-5});
  }

  // The sandwich (JᵀWJ)⁻¹ (Σ g gᵀ + P) (JᵀWJ)⁻¹, g = Jᵀ W r summed over each block of path, P what
  // is known beforehand; after Liang and Zeger, Biometrika 73 (1986) 13 (from memory).
  void find_covariance() {
    auto const rows = static_cast<Eigen::Index>(rows_.size());
    Eigen::MatrixXd const& jacobian = found_.jacobian;
    Eigen::VectorXd const& weights = found_.weights;
    Eigen::MatrixXd const before = jacobian.bottomRows(jacobian.rows() - rows);
    Eigen::MatrixXd const prior = before.transpose() * before;
    Eigen::MatrixXd const top = jacobian.topRows(rows);
    Eigen::MatrixXd const whole = top.transpose() * weights.head(rows).asDiagonal() * top + prior;
    Eigen::MatrixXd scores = prior;
    Eigen::VectorXd sum = Eigen::VectorXd::Zero(DenseModel::size);
    double from = model_.way_mm(0), blocks = 0;
    Eigen::MatrixXd between = Eigen::MatrixXd::Zero(DenseModel::size, DenseModel::size);
    auto const close = [&] {
      between += sum * sum.transpose();
      sum.setZero();
      ++blocks;
    };
    for (Eigen::Index i = 0; i < rows; ++i) {
      double const way = model_.way_mm(static_cast<std::size_t>(i));
      if (way - from > block_mm) {
        close();
        from = way;
      }
      sum += weights[i] * found_.residuals[i] * jacobian.row(i).transpose();
    }
    close();
    scores += between * (blocks / std::max(1.0, blocks - DenseModel::size));
    Eigen::MatrixXd const inverse =
        whole.ldlt().solve(Eigen::MatrixXd::Identity(DenseModel::size, DenseModel::size));
    covariance_ = larger_of(inverse, inverse * scores * inverse);
  }

  [[nodiscard]] Value value(Eigen::Index k) const {
    return {found_.parameters[k], std::sqrt(std::max(0.0, covariance_(k, k)))};
  }

  FitResult fill() {
    FitResult result;
    fill_lag(result, flows_, found_.parameters, covariance_);
    using M = DenseModel;
    outcome_.wander_mm = model_.errors().wander_mm;
    outcome_.alike_over_mm = model_.errors().alike_mm;
    outcome_.height_mm = value(M::height);
    outcome_.slope_x_mm = value(M::slope_x);
    outcome_.slope_y_mm = value(M::slope_y);
    outcome_.bow_mm = value(M::bow);
    outcome_.edge_offset_mm = value(M::offset);
    Value const c1 = value(M::first_harmonic), s1 = value(M::first_harmonic + 1);
    Value const c2 = value(M::second_harmonic), s2 = value(M::second_harmonic + 1);
    outcome_.shade_mm = {std::hypot(c1.value, s1.value) + std::hypot(c2.value, s2.value),
                         std::max({c1.sd, s1.sd, c2.sd, s2.sd})};
    fill_rows(result);
    fill_wander(result.rows);
    outcome_.bursts = fit_bursts(path_, all_, options_, model_, found_.parameters, covariance_);
    if (options_.e_mm_per_turn > 0)
      outcome_.pulse = fit_pulse(model_, found_, options_.e_mm_per_turn);
    result.dense = outcome_;
    result.heights.push_back({"middle of the rings", outcome_.height_mm});
    result.scatter = model_.errors().scale;
    result.free_parameters = static_cast<int>(M::size);
    if (result.run_on_mm3.sd / result.run_on_mm3.value >
        undetermined_share * Beforehand::log_run_on_sd)
      result.not_determined.emplace_back("run-on");
    if (result.flow_index.sd > undetermined_share * Beforehand::index_sd)
      result.not_determined.emplace_back("flow index");
    for (reading::PathMove const& move : path_.moves)
      if (!std::isnan(move.timed.move.nozzle_c) && move.timed.move.nozzle_c > 0)
        result.nozzle_c = move.timed.move.nozzle_c;
    for (Extra const extra :
         {Extra::backlash, Extra::reverse_factor, Extra::leak, Extra::creep, Extra::pulsation})
      result.extras.push_back({.extra = extra, .value = {}});
    return result;
  }

  void fill_rows(FitResult& result) const {
    Eigen::VectorXd const errors = model_.errors_mm(found_.parameters);
    for (std::size_t i = 0; i < rows_.size(); ++i) {
      auto const k = static_cast<Eigen::Index>(i);
      bool const fine = found_.weights[k] > 0.1;
      if (fine) ++result.readings;
      result.rows.push_back(
          {.row = rows_[i].row,
           .trace = rows_[i].trace,
           .kind = reading::ReadingKind::width,
           .ruler_mm = rows_[i].ruler_mm,
           .measured = *rows_[i].value,
           .predicted = *rows_[i].value + errors[k],
           .sd = std::hypot(model_.errors().scale * model_.sd_mm(i), model_.errors().wander_mm),
           .counted = found_.weights[k]});
    }
  }

  // A width above the round flanks' share of it goes with the section (reading/predictor.hpp).
  void fill_wander(std::vector<RowOutcome> const& rows) {
    double flat_mm = 0, way_mm = 0, seconds = 0;
    double const flanks_mm = (1 - std::numbers::pi / 4) * outcome_.height_mm.value;
    for (RowOutcome const& row : rows)
      flat_mm += (row.predicted - flanks_mm) / static_cast<double>(rows.size());
    for (reading::PathMove const& move : path_.moves) {
      if (move.length_mm() <= 0 || move.timed.move.e_mm <= 0) continue;
      way_mm += move.length_mm();
      seconds += move.timed.speed.duration_s();
    }
    if (flat_mm > 0) outcome_.wander_share = outcome_.wander_mm / flat_mm;
    if (way_mm > 0) outcome_.alike_over_s = outcome_.alike_over_mm * seconds / way_mm;
  }

  reading::PrintedPath const& path_;
  std::vector<reading::Reading> const& all_;
  FitOptions const& options_;
  std::vector<reading::Reading> rows_;
  Flows flows_;
  DenseModel model_;
  LeastSquaresResult found_;
  Eigen::MatrixXd covariance_;
  DenseOutcome outcome_;
};

}  // namespace

bool is_dense(std::vector<reading::Reading> const& readings) {
  return static_cast<std::size_t>(
             std::count_if(readings.begin(), readings.end(), [](reading::Reading const& reading) {
               return reading.kind == reading::ReadingKind::width && reading.length_mm > 0;
             })) > fewest_dense;
}

FitResult fit_dense(reading::PrintedPath const& path,
                    std::vector<reading::Reading> const& readings,
                    FitOptions const& options) {
  DenseSearch search(path, readings, options);
  return search.run();
}

}  // namespace meltlag::fit
