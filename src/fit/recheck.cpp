// SPDX-License-Identifier: MIT
#include "meltlag/fit/recheck.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>

#include "meltlag/base/error.hpp"

namespace meltlag::fit {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr Index parameters = 3;  // ln S, n, ln factor
constexpr double significant = 0.05;
constexpr std::size_t fewest = 3;

double chance_beyond(double chi_squared, int freedom) {
  if (freedom < 1) return 1;
  boost::math::chi_squared const distribution(freedom);
  return boost::math::cdf(boost::math::complement(distribution, std::max(0.0, chi_squared)));
}

class Bench {
 public:
  Bench(reading::PrintedPath const& path,
        std::vector<reading::Reading> const& readings,
        RecheckOptions const& options)
      : readings_(readings), options_(options), predictor_(path, readings, options.predictor) {
    for (std::size_t i = 0; i < readings.size(); ++i)
      if (predictor_.usable(i) && readings[i].kind != reading::ReadingKind::height)
        rows_.push_back(i);
    if (rows_.size() < fewest)
      throw Error(fmt::format("{} {} too few to say whether the lag still holds",
                              rows_.size(),
                              rows_.size() == 1 ? "reading is" : "readings are"),
                  {},
                  "measure five places, the first rows of the sheet first");
    start_ = VectorXd{{std::log(options.law.run_on_mm3),
                       options.law.flow_index,
                       std::log(options.feed.delivered_factor)}};
  }

  [[nodiscard]] VectorXd const& start() const { return start_; }
  [[nodiscard]] int count() const { return static_cast<int>(rows_.size()); }

  [[nodiscard]] VectorXd predicted(VectorXd const& at, double height_mm) const {
    reading::TestedPlant tested{.plant = {.law = options_.law, .feed = options_.feed}};
    tested.plant.law.run_on_mm3 = std::exp(at[0]);
    tested.plant.law.flow_index = at[1];
    tested.plant.feed.delivered_factor = std::exp(at[2]);
    tested.plant.leak_per_s = options_.leak_per_s;
    reading::Laid const laid = predictor_.simulate(tested);
    VectorXd out(count());
    for (Index i = 0; i < out.size(); ++i)
      out[i] = predictor_.predict(laid, rows_[static_cast<std::size_t>(i)], height_mm).value;
    return out;
  }
  [[nodiscard]] VectorXd predicted(VectorXd const& at) const {
    return predicted(at, options_.predictor.layer_height_mm);
  }
  [[nodiscard]] VectorXd residuals(VectorXd const& at) const {
    VectorXd out = -predicted(at);
    for (Index i = 0; i < out.size(); ++i)
      out[i] += *readings_[rows_[static_cast<std::size_t>(i)]].value;
    return out;
  }
  [[nodiscard]] MatrixXd derivatives(VectorXd const& at) const {
    constexpr double step = 0.02;
    MatrixXd out(count(), parameters);
    for (Index k = 0; k < parameters; ++k) {
      VectorXd up = at, down = at;
      up[k] += step;
      down[k] -= step;
      out.col(k) = (predicted(up) - predicted(down)) / (2 * step);
    }
    return out;
  }

  // Tool and place, the height that all layers of a trace have in common, and the profile's ±.
  [[nodiscard]] MatrixXd covariance(MatrixXd const& by_parameter) const {
    reading::TestedPlant tested{.plant = {.law = options_.law, .feed = options_.feed}};
    tested.plant.leak_per_s = options_.leak_per_s;
    reading::Laid const laid = predictor_.simulate(tested);
    double const height = options_.predictor.layer_height_mm;
    MatrixXd v = MatrixXd::Zero(count(), count());
    VectorXd by_height(count());
    for (Index i = 0; i < count(); ++i) {
      std::size_t const row = rows_[static_cast<std::size_t>(i)];
      double const sd = predictor_.predict(laid, row, height).sd;
      v(i, i) = sd * sd;
      constexpr double step_mm = 1e-3;
      by_height[i] = (predictor_.predict(laid, row, height + step_mm).value -
                      predictor_.predict(laid, row, height - step_mm).value) /
                     (2 * step_mm);
    }
    double const height_sd = options_.predictor.errors.layer_height_mm;
    for (Index i = 0; i < count(); ++i)
      for (Index j = 0; j < count(); ++j)
        if (trace(i) == trace(j)) v(i, j) += by_height[i] * by_height[j] * height_sd * height_sd;
    return v + by_parameter * known() * by_parameter.transpose();
  }

 private:
  [[nodiscard]] std::string const& trace(Index i) const {
    return readings_[rows_[static_cast<std::size_t>(i)]].trace;
  }
  // Covariance of what the profile says.
  [[nodiscard]] MatrixXd known() const {
    MatrixXd out = MatrixXd::Zero(parameters, parameters);
    double const s = options_.run_on_sd_mm3 / options_.law.run_on_mm3, n = options_.flow_index_sd;
    out(0, 0) = s * s;
    out(1, 1) = n * n;
    out(0, 1) = out(1, 0) = options_.correlation * s * n;
    out(2, 2) = std::pow(options_.factor_sd / options_.feed.delivered_factor, 2);
    return out;
  }

  std::vector<reading::Reading> const& readings_;
  RecheckOptions const& options_;
  reading::Predictor predictor_;
  std::vector<std::size_t> rows_;
  VectorXd start_;
};

// One parameter alone, by a few steps of Gauss and Newton.
MovedTo moved_alone(Bench const& bench, Eigen::LDLT<MatrixXd> const& weight, Index k) {
  constexpr int steps = 6;
  constexpr double widest_step = 0.5;
  VectorXd at = bench.start();
  double sd = 0;
  for (int i = 0; i < steps; ++i) {
    VectorXd const j = bench.derivatives(at).col(k), r = bench.residuals(at);
    double const information = j.dot(weight.solve(j));
    if (!(information > 0)) break;
    sd = 1 / std::sqrt(information);
    double const step = j.dot(weight.solve(r)) / information;
    at[k] += std::clamp(step, -widest_step, widest_step);
    if (k == 1) at[k] = std::clamp(at[k], 0.1, 1.5);
  }
  VectorXd const r = bench.residuals(at);
  auto const told = [&](double value) { return k == 1 ? value : std::exp(value); };
  MovedTo out{.parameter = static_cast<Moved>(k),
              .from = told(bench.start()[k]),
              .to = told(at[k]),
              .sd = k == 1 ? sd : told(at[k]) * sd,
              .chi_squared = r.dot(weight.solve(r))};
  out.p = chance_beyond(out.chi_squared, bench.count() - 1);
  return out;
}

}  // namespace

std::string_view name_of(Moved moved) {
  switch (moved) {
    case Moved::run_on:
      return "run-on";
    case Moved::flow_index:
      return "flow index";
    case Moved::delivered_factor:
      return "delivered factor";
  }
  return {};
}

Recheck recheck(reading::PrintedPath const& path,
                std::vector<reading::Reading> const& readings,
                RecheckOptions const& options) {
  constexpr double blind_share = 0.5;
  Bench const bench(path, readings, options);
  MatrixXd const j = bench.derivatives(bench.start());
  Eigen::LDLT<MatrixXd> const weight(bench.covariance(j));
  VectorXd const r = bench.residuals(bench.start());
  Recheck out{.readings = bench.count(), .chi_squared = r.dot(weight.solve(r))};
  out.p = chance_beyond(out.chi_squared, out.readings);
  VectorXd const by_run_on = j.col(0);
  out.visible_run_on_share = 2 / std::sqrt(by_run_on.dot(weight.solve(by_run_on)));
  if (out.p >= significant) {
    out.level =
        out.visible_run_on_share > blind_share ? RecheckLevel::cannot_tell : RecheckLevel::holds;
    return out;
  }
  for (Index k = 0; k < parameters; ++k) out.moved.push_back(moved_alone(bench, weight, k));
  std::ranges::sort(out.moved, {}, &MovedTo::chi_squared);
  out.level = out.moved.front().p >= significant ? RecheckLevel::moved : RecheckLevel::several;
  return out;
}

}  // namespace meltlag::fit
