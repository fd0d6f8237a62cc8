// SPDX-License-Identifier: MIT
#include "meltlag/fit/fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dense_fit.hpp"
#include "fit_lag.hpp"
#include "fit_search.hpp"

namespace meltlag::fit {
namespace {

constexpr double aimed_share = 0.1;   // ± of run-on that is called enough
constexpr double near_enough = 1.05;  // of it: nobody measures again for half a percent
constexpr double strong_correlation = 0.8;

// Readings that scatter more than assumed make every ± wider; less scatter is taken for luck.
double inflation(FitResult const& result) { return std::max(1.0, result.scatter); }

class Filler {
 public:
  Filler(reading::PrintedPath const& path,
         std::vector<reading::Reading> const& readings,
         Search const& search)
      : path_(path), readings_(readings), search_(search) {}
  FitResult fill();

 private:
  void fill_scatter();
  void fill_law();
  void fill_extras();
  void fill_doubts();

  reading::PrintedPath const& path_;
  std::vector<reading::Reading> const& readings_;
  Search const& search_;
  FitResult result_;
};

FitResult Filler::fill() {
  result_.rows = search_.judged();
  result_.extras = search_.extras();
  for (std::size_t i = 0; i < result_.rows.size(); ++i)
    if (search_.left_out()[i]) {
      result_.rows[i].counted = 0;
      if (result_.rows[i].verdict == RowVerdict::looks_wrong)
        result_.rows[i].verdict = RowVerdict::feed_trouble;
    }
  fill_scatter();
  fill_law();
  fill_extras();
  fill_doubts();
  if (auto const drift = drift_of(path_, readings_, result_.rows, search_.best().found)) {
    result_.drift = {drift->value, inflation(result_) * drift->sd};
    result_.drift_known = true;
  }
  for (reading::PathMove const& move : path_.moves)
    if (!std::isnan(move.timed.move.nozzle_c) && move.timed.move.nozzle_c > 0)
      result_.nozzle_c = move.timed.move.nozzle_c;
  return std::move(result_);
}

// All unknowns but the extras are held beforehand, each by a residual of its own: the readings that
// count are what is to spare.
void Filler::fill_scatter() {
  LeastSquaresResult const& found = search_.best().found;
  auto const rows = static_cast<Eigen::Index>(result_.rows.size());
  double squares = found.residuals.tail(found.residuals.size() - rows).squaredNorm(), counted = 0;
  for (RowOutcome const& row : result_.rows) {
    double const off = (row.measured - row.predicted) / row.sd;
    squares += row.counted * off * off;
    counted += row.counted;
    if (row.counted > 0) ++result_.readings;
  }
  auto const unknowns = static_cast<int>(search_.unknowns().first_height());
  result_.free_parameters = unknowns;
  double const extras = unknowns - static_cast<int>(Unknowns::first_extra);
  result_.scatter = std::sqrt(squares / std::max(1.0, counted - extras));
}

void Filler::fill_law() {
  Eigen::VectorXd const& at = search_.best().found.parameters;
  Eigen::MatrixXd const& covariance = search_.best().found.determination.covariance;
  double const wider = inflation(result_) * inflation(result_);
  fill_lag(result_, search_.flows(), at, wider * covariance);
  for (std::string const& trace : search_.unknowns().traces()) {
    Eigen::Index const i = search_.unknowns().height_of(trace);
    result_.heights.push_back({trace, {at[i], std::sqrt(covariance(i, i))}});
  }
}

void Filler::fill_extras() {
  Eigen::VectorXd const& at = search_.best().found.parameters;
  Eigen::VectorXd const& sd = search_.best().found.determination.deviation;
  for (ExtraOutcome& outcome : result_.extras) {
    if (!outcome.taken) continue;
    Eigen::Index const i = search_.unknowns().place_of(outcome.extra);
    outcome.value = {at[i], inflation(result_) * sd[i]};
    if (outcome.extra != Extra::pulsation) continue;
    double const turn = std::atan2(at[i + 1], at[i]) / (2 * std::numbers::pi);
    outcome.value = {std::hypot(at[i], at[i + 1]),
                     inflation(result_) * std::hypot(sd[i], sd[i + 1]) / std::numbers::sqrt2};
    outcome.pulse_turn = turn < 0 ? turn + 1 : turn;
  }
}

void Filler::fill_doubts() {
  LeastSquaresProblem names;
  search_.unknowns().describe(names);
  double const log_s_sd = result_.run_on_mm3.sd / result_.run_on_mm3.value;
  if (log_s_sd > undetermined_share * Beforehand::log_run_on_sd)
    result_.not_determined.emplace_back("run-on");
  if (result_.flow_index.sd > undetermined_share * Beforehand::index_sd)
    result_.not_determined.emplace_back("flow index");
  if (result_.delivered_factor.sd / result_.delivered_factor.value >
      undetermined_share * Beforehand::log_factor_sd)
    result_.not_determined.emplace_back("delivered factor");
  Eigen::MatrixXd const& correlation = search_.best().found.determination.correlation;
  for (Eigen::Index i = 0; i < search_.unknowns().first_height(); ++i)
    for (Eigen::Index k = 0; k < i; ++k)
      if (std::abs(correlation(i, k)) > strong_correlation)
        result_.correlations.push_back(fmt::format("{} and {}: {:.2f}",
                                                   names.names[static_cast<std::size_t>(k)],
                                                   names.names[static_cast<std::size_t>(i)],
                                                   correlation(i, k)));
  if (log_s_sd > near_enough * aimed_share) {
    double const times = (log_s_sd / aimed_share) * (log_s_sd / aimed_share) - 1;
    result_.readings_for_ten_percent = static_cast<int>(std::ceil(times * result_.readings));
  }
}

}  // namespace

FlowLag at_flow(FitResult const& fit, double flow_mm3_s) {
  melt::LagLaw const& law = fit.law;
  double const q = std::log(flow_mm3_s / law.at_flow_mm3_s);
  double const log_s = fit.run_on_mm3.sd / fit.run_on_mm3.value, n = fit.flow_index.sd;
  double const both = fit.run_on_index_correlation * log_s * n;
  auto const spread = [&](double by_index) {
    return std::sqrt(
        std::max(0.0, log_s * log_s + 2 * by_index * both + by_index * by_index * n * n));
  };
  double const run_on = melt::run_on_at_flow(law, flow_mm3_s), lag = melt::lag_s(law, flow_mm3_s);
  return {.flow_mm3_s = flow_mm3_s,
          .run_on_mm3 = {run_on, run_on * spread(q)},
          .lag_s = {lag, lag * spread(q + 1 / law.flow_index)}};
}

FitResult fit(reading::PrintedPath const& path,
              std::vector<reading::Reading> const& readings,
              FitOptions const& options) {
  if (is_dense(readings)) return fit_dense(path, readings, options);
  Search search(path, readings, options);
  search.run();
  return Filler(path, readings, search).fill();
}

}  // namespace meltlag::fit
