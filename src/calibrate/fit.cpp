// SPDX-License-Identifier: MIT
#include "meltlag/calibrate/fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "fit_search.hpp"

namespace meltlag::calibrate {
namespace {

constexpr double aimed_share = 0.1;         // ± of run-on that is called enough
constexpr double undetermined_share = 0.8;  // of what was held plausible beforehand
constexpr double strong_correlation = 0.8;

// Readings that scatter more than assumed make every ± wider; less scatter is taken for luck.
double inflation(FitResult const& result) { return std::max(1.0, result.scatter); }

class Filler {
 public:
  Filler(PrintedPath const& path, std::vector<Reading> const& readings, Search const& search)
      : path_(path), readings_(readings), search_(search) {}
  FitResult fill();

 private:
  void fill_scatter();
  void fill_law();
  void fill_extras();
  void fill_doubts();

  PrintedPath const& path_;
  std::vector<Reading> const& readings_;
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
  if (auto const drift = drift_of(path_, readings_, result_.rows)) {
    result_.drift = *drift;
    result_.drift_known = true;
  }
  for (PathMove const& move : path_.moves)
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
  Flows const& flows = search_.flows();
  Eigen::VectorXd const& at = search_.best().found.parameters;
  Eigen::MatrixXd const& covariance = search_.best().found.determination.covariance;
  double const wider = inflation(result_) * inflation(result_);
  double const var_s = wider * covariance(Unknowns::log_run_on, Unknowns::log_run_on);
  double const var_n = wider * covariance(Unknowns::index, Unknowns::index);
  double const both = wider * covariance(Unknowns::log_run_on, Unknowns::index);
  // ln S at Q has the variance v_S + 2 q c + q² v_n, q = ln(Q/Qref): least at q = −c/v_n.
  double const q0 = var_n > 0 ? -both / var_n : 0;
  double const q =
      std::clamp(q0, std::log(flows.slow / flows.middle), std::log(flows.fast / flows.middle));
  double const log_s = at[Unknowns::log_run_on] + q * at[Unknowns::index];
  double const var = var_s + 2 * q * both + q * q * var_n;
  double const cross = both + q * var_n;
  result_.law = {.run_on_mm3 = std::exp(log_s),
                 .at_flow_mm3_s = flows.middle * std::exp(q),
                 .flow_index = at[Unknowns::index],
                 .at_c = {},
                 .activation_kj_mol = {}};
  result_.run_on_mm3 = {std::exp(log_s), std::exp(log_s) * std::sqrt(var)};
  result_.flow_index = {at[Unknowns::index], std::sqrt(var_n)};
  result_.run_on_index_correlation = var > 0 && var_n > 0 ? cross / std::sqrt(var * var_n) : 0;
  double const factor = std::exp(at[Unknowns::log_factor]);
  result_.delivered_factor = {
      factor, factor * std::sqrt(wider * covariance(Unknowns::log_factor, Unknowns::log_factor))};
  double const shown[] = {flows.slow, flows.middle, flows.fast};
  for (std::size_t i = 0; i < 3; ++i) result_.at_flows[i] = at_flow(result_, shown[i]);
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
  if (log_s_sd > aimed_share) {
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

FitResult fit(PrintedPath const& path,
              std::vector<Reading> const& readings,
              FitOptions const& options) {
  Search search(path, readings, options);
  search.run();
  return Filler(path, readings, search).fill();
}

}  // namespace meltlag::calibrate
