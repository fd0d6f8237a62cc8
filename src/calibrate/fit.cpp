// SPDX-License-Identifier: MIT
#include "meltlag/calibrate/fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "fit_model.hpp"
#include "fit_rows.hpp"

namespace meltlag::calibrate {
namespace {

constexpr int fewest_readings = 5;
constexpr int quick_layers = 3;  // looked at until the last round
constexpr double tukey = 4.685;  // 95 % efficiency on normal errors (Huber, Robust Statistics)
constexpr double taken_below = 0.003;       // chance of an extra that is not there
constexpr double least_gain = 9;            // of twice the cost, that an extra has to bring
constexpr double aimed_share = 0.1;         // ± of run-on that is called enough
constexpr double undetermined_share = 0.8;  // of what was held plausible beforehand
constexpr double strong_correlation = 0.8;

struct Flows {
  double slow, middle, fast;
};

// Flows that the file asks for at the readings' places.
Flows flows_of(PrintedPath const& path, std::vector<Reading> const& readings) {
  double slow = std::numeric_limits<double>::infinity(), fast = 0;
  for (Reading const& reading : readings) {
    TraceMark const* const mark = reading.lines.empty() ? nullptr : path.mark_of(reading.lines[0]);
    for (std::int64_t const line : reading.lines) {
      PathMove const& move = path.moves[path.move_of_line.at(line)];
      double const flow =
          move.timed.move.kind == gcode::MoveKind::print
              ? move.timed.move.volume_mm3 / move.timed.speed.length_mm * move.timed.speed.peak_mm_s
              : 0;
      if (flow <= 0) continue;
      slow = std::min(slow, flow);
      fast = std::max(fast, flow);
    }
    (void)mark;
  }
  if (fast <= 0) return {2, 4, 8};
  return {slow, std::sqrt(slow * fast), fast};
}

void refuse_poor(std::vector<Reading> const& readings, Predictor const& predictor) {
  int usable = 0, widths = 0;
  double least = std::numeric_limits<double>::infinity(), most = 0;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (!predictor.usable(i)) continue;
    ++usable;
    if (readings[i].kind != Kind::width) continue;
    ++widths;
    least = std::min(least, *readings[i].value);
    most = std::max(most, *readings[i].value);
  }
  Place const place = readings.empty() ? Place{} : Place{.file = readings.front().place.file};
  if (usable < fewest_readings)
    throw Error(
        fmt::format("{} readings cannot tell the lag", usable),
        place,
        fmt::format("fill in the value of at least {} rows; 20 give a useful ±", fewest_readings));
  if (widths == usable && most - least < 1e-9)
    throw Error(
        fmt::format("all {} readings are {:g}: a lag shows where widths differ", widths, most),
        place,
        "measure every row at the place that its trace and ruler_mm name");
}

std::vector<std::string> traces_of(std::vector<Reading> const& readings) {
  std::vector<std::string> traces;
  for (Reading const& reading : readings)
    if (reading.kind != Kind::mass &&
        std::find(traces.begin(), traces.end(), reading.trace) == traces.end())
      traces.push_back(reading.trace);
  return traces;
}

// One way to explain the readings.
struct Explained {
  LeastSquaresResult found;
  double twice_cost = 0;
};

class Fitter {
 public:
  Fitter(PrintedPath const& path, std::vector<Reading> const& readings, FitOptions const& options)
      : path_(path),
        readings_(readings),
        options_(options),
        flows_(flows_of(path, readings)),
        traces_(traces_of(readings)),
        quick_(path, readings, quick(options.predictor)),
        whole_(path, readings, options.predictor) {}

  FitResult run() {
    refuse_poor(readings_, whole_);
    std::vector<bool> out(readings_.size());
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = !whole_.usable(i);
    left_out_ = out;
    FitResult result;
    Unknowns unknowns = bare();
    Explained best = explain(unknowns, best_start(unknowns));
    find_extras(result, unknowns, best);
    best = polish(unknowns, best.found.parameters);
    leave_out_feed_trouble(unknowns, best);
    fill(result, unknowns, best);
    return result;
  }

 private:
  static PredictorOptions quick(PredictorOptions options) {
    options.most_layers = quick_layers;
    return options;
  }
  [[nodiscard]] Unknowns bare() const { return Unknowns(options_, flows_.middle, traces_, {}); }

  LeastSquaresResult solve(Unknowns const& unknowns,
                           Residuals& residuals,
                           Eigen::VectorXd const& start) {
    LeastSquaresProblem problem;
    unknowns.describe(problem);
    problem.start = start;
    problem.residuals = [&](Eigen::VectorXd const& at) { return residuals(at); };
    problem.jacobian = [&](Eigen::VectorXd const& at) { return residuals.jacobian(at); };
    return solve_least_squares(problem,
                               {.loss = Loss::tukey,
                                .loss_scale = tukey,
                                .most_iterations = 40,
                                .function_tolerance = 1e-6,
                                .gradient_tolerance = 1e-9,
                                .parameter_tolerance = 1e-6});
  }

  // A few machines across what is plausible; the one that explains most.
  Eigen::VectorXd best_start(Unknowns const& unknowns) {
    Residuals residuals(quick_, readings_, unknowns);
    residuals.leave_out(left_out_);
    bands_.assign(readings_.size(), {std::numeric_limits<double>::infinity(), 0});
    Eigen::VectorXd best;
    double least = std::numeric_limits<double>::infinity();
    for (double const run_on : {0.25, 0.8, 2.0, 4.5, 10.0}) {
      for (double const index : {0.35, 0.9}) {
        Eigen::VectorXd const at = unknowns.start(run_on, index);
        std::vector<Predicted> const predicted = residuals.predict(at);
        double sum = 0;
        for (std::size_t i = 0; i < predicted.size(); ++i) {
          // Factors of 0.7 to 1.4 are plausible: widths move with them.
          bands_[i].least = std::min(bands_[i].least, 0.7 * predicted[i].value);
          bands_[i].most = std::max(bands_[i].most, 1.4 * predicted[i].value);
          if (left_out_[i]) continue;
          double const off = (predicted[i].value - *readings_[i].value) / predicted[i].sd;
          sum += std::min(off * off, 25.0);
        }
        if (sum < least) {
          least = sum;
          best = at;
        }
      }
    }
    return best;
  }

  Explained explain(Unknowns const& unknowns, Eigen::VectorXd const& start) {
    return rounds(quick_, unknowns, start, 2);
  }
  Explained polish(Unknowns const& unknowns, Eigen::VectorXd const& start) {
    return rounds(whole_, unknowns, start, 1);
  }
  Explained rounds(Predictor const& predictor,
                   Unknowns const& unknowns,
                   Eigen::VectorXd const& start,
                   int count) {
    Residuals residuals(predictor, readings_, unknowns);
    residuals.leave_out(left_out_);
    Explained out;
    Eigen::VectorXd at = start;
    for (int i = 0; i < count; ++i) {
      residuals.settle(at);
      out.found = solve(unknowns, residuals, at);
      at = out.found.parameters;
    }
    out.twice_cost = 2 * out.found.cost;
    return out;
  }

  // What the print could show at all.
  [[nodiscard]] bool can_show(Extra extra) const {
    bool const reverses = std::any_of(path_.moves.begin(),
                                      path_.moves.end(),
                                      [](PathMove const& m) { return m.timed.move.e_mm < 0; });
    switch (extra) {
      case Extra::play:
        return reverses && options_.feed.play_mm == 0;
      case Extra::reverse_factor:
        return reverses && options_.feed.reverse_factor == 1;
      case Extra::leak:
        return options_.leak_per_s == 0;
      case Extra::creep:
        return true;
      case Extra::pulsation:
        return options_.e_mm_per_turn > 0;
    }
    return false;
  }

  // Forward selection: the extra that explains most is taken, if chance alone hardly would.
  void find_extras(FitResult& result, Unknowns& unknowns, Explained& best) {
    std::vector<Extra> left{
        Extra::play, Extra::reverse_factor, Extra::leak, Extra::creep, Extra::pulsation};
    for (Extra const extra : left) result.extras.push_back({.extra = extra, .value = {}});
    std::erase_if(left, [&](Extra extra) { return !can_show(extra); });
    while (!left.empty() && unknowns.extras().size() < 2) {
      Extra chosen{};
      double least_chance = 1;
      std::optional<Explained> chosen_fit;
      std::optional<Unknowns> chosen_unknowns;
      for (Extra const extra : left) {
        std::vector<Extra> with = unknowns.extras();
        with.push_back(extra);
        Unknowns const more(options_, flows_.middle, traces_, with);
        Explained const fit = explain(more, widened(unknowns, more, best.found.parameters));
        double const chance = chance_of(best, fit, more.size() - unknowns.size());
        ExtraOutcome& outcome = outcome_of(result, extra);
        if (!outcome.tried) outcome.chance = chance;
        outcome.tried = true;
        bool const gains = best.twice_cost - fit.twice_cost > least_gain;
        if (gains && chance < taken_below && chance < least_chance) {
          least_chance = chance;
          chosen = extra;
          chosen_fit = fit;
          chosen_unknowns = more;
        }
      }
      if (!chosen_fit) return;
      outcome_of(result, chosen).taken = true;
      unknowns = *chosen_unknowns;
      best = *chosen_fit;
      std::erase(left, chosen);
    }
  }
  static ExtraOutcome& outcome_of(FitResult& result, Extra extra) {
    return *std::find_if(result.extras.begin(), result.extras.end(), [extra](auto const& o) {
      return o.extra == extra;
    });
  }

  static Eigen::VectorXd widened(Unknowns const& from,
                                 Unknowns const& to,
                                 Eigen::VectorXd const& at) {
    Eigen::VectorXd start = to.start(1, 1);
    start.head(from.first_height()) = at.head(from.first_height());
    start.tail(static_cast<Eigen::Index>(to.traces().size())) =
        at.tail(static_cast<Eigen::Index>(from.traces().size()));
    return start;
  }

  // F-test of the added unknowns; the readings' own errors are known, so that a scatter below them
  // proves nothing.
  [[nodiscard]] double chance_of(Explained const& without,
                                 Explained const& with,
                                 Eigen::Index added) const {
    double const spare = static_cast<double>(readings_.size()) - 3 - static_cast<double>(added);
    if (spare < 1) return 1;
    double const gain = (without.twice_cost - with.twice_cost) / static_cast<double>(added);
    double const noise = std::max(1.0, with.twice_cost / spare);
    if (gain <= 0) return 1;
    boost::math::fisher_f const f(static_cast<double>(added), spare);
    return boost::math::cdf(boost::math::complement(f, gain / noise));
  }

  void leave_out_feed_trouble(Unknowns const& unknowns, Explained& best) {
    std::vector<RowOutcome> const rows = judged(unknowns, best);
    bool any = false;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (rows[i].verdict != RowVerdict::feed_trouble) continue;
      left_out_[i] = any = true;
    }
    if (any) best = polish(unknowns, best.found.parameters);
  }

  [[nodiscard]] std::vector<RowOutcome> judged(Unknowns const& unknowns,
                                               Explained const& best) const {
    Residuals residuals(whole_, readings_, unknowns);
    return judge_rows(
        path_, readings_, residuals.predict(best.found.parameters), best.found.weights, bands_);
  }

  void fill(FitResult& result, Unknowns const& unknowns, Explained const& best);
  void fill_law(FitResult& result, Unknowns const& unknowns, Explained const& best);
  void fill_extras(FitResult& result, Unknowns const& unknowns, Explained const& best);
  void fill_doubts(FitResult& result, Unknowns const& unknowns, Explained const& best);

  PrintedPath const& path_;
  std::vector<Reading> const& readings_;
  FitOptions const& options_;
  Flows flows_;
  std::vector<std::string> traces_;
  Predictor quick_, whole_;
  std::vector<bool> left_out_;
  std::vector<Band> bands_;
};

void Fitter::fill(FitResult& result, Unknowns const& unknowns, Explained const& best) {
  result.rows = judged(unknowns, best);
  for (std::size_t i = 0; i < result.rows.size(); ++i)
    if (left_out_[i]) {
      result.rows[i].counted = 0;
      if (result.rows[i].verdict == RowVerdict::looks_wrong)
        result.rows[i].verdict = RowVerdict::feed_trouble;
    }
  double squares = 0, counted = 0;
  for (RowOutcome const& row : result.rows) {
    double const off = (row.measured - row.predicted) / row.sd;
    squares += row.counted * off * off;
    counted += row.counted;
    if (row.counted > 0) ++result.readings;
  }
  result.free_parameters = static_cast<int>(unknowns.first_height());
  double const spare = std::max(1.0, counted - static_cast<double>(unknowns.first_height()));
  result.scatter = std::sqrt(squares / spare);
  fill_law(result, unknowns, best);
  fill_extras(result, unknowns, best);
  fill_doubts(result, unknowns, best);
  if (auto const drift = drift_of(path_, readings_, result.rows)) {
    result.drift = *drift;
    result.drift_known = true;
  }
  for (PathMove const& move : path_.moves)
    if (!std::isnan(move.timed.move.nozzle_c)) result.nozzle_c = move.timed.move.nozzle_c;
}

// Readings that scatter more than assumed make every ± wider; less scatter is taken for luck.
double inflation(FitResult const& result) { return std::max(1.0, result.scatter); }

void Fitter::fill_law(FitResult& result, Unknowns const& unknowns, Explained const& best) {
  Eigen::VectorXd const& at = best.found.parameters;
  Eigen::MatrixXd const& covariance = best.found.determination.covariance;
  double const wider = inflation(result) * inflation(result);
  double const var_s = wider * covariance(Unknowns::log_run_on, Unknowns::log_run_on);
  double const var_n = wider * covariance(Unknowns::index, Unknowns::index);
  double const both = wider * covariance(Unknowns::log_run_on, Unknowns::index);
  // ln S at Q has the variance v_S + 2 q c + q² v_n, q = ln(Q/Qref): least at q = −c/v_n.
  double const q0 = var_n > 0 ? -both / var_n : 0;
  double const q =
      std::clamp(q0, std::log(flows_.slow / flows_.middle), std::log(flows_.fast / flows_.middle));
  double const log_s = at[Unknowns::log_run_on] + q * at[Unknowns::index];
  double const var = var_s + 2 * q * both + q * q * var_n;
  double const cross = both + q * var_n;
  result.law = {.run_on_mm3 = std::exp(log_s),
                .at_flow_mm3_s = flows_.middle * std::exp(q),
                .flow_index = at[Unknowns::index],
                .at_c = {},
                .activation_kj_mol = {}};
  result.run_on_mm3 = {std::exp(log_s), std::exp(log_s) * std::sqrt(var)};
  result.flow_index = {at[Unknowns::index], std::sqrt(var_n)};
  result.run_on_index_correlation = var > 0 && var_n > 0 ? cross / std::sqrt(var * var_n) : 0;
  double const factor = std::exp(at[Unknowns::log_factor]);
  result.delivered_factor = {
      factor, factor * std::sqrt(wider * covariance(Unknowns::log_factor, Unknowns::log_factor))};
  double const flows[] = {flows_.slow, flows_.middle, flows_.fast};
  for (std::size_t i = 0; i < 3; ++i) result.at_flows[i] = at_flow(result, flows[i]);
  for (std::string const& trace : unknowns.traces()) {
    Eigen::Index const i = unknowns.height_of(trace);
    result.heights.push_back({trace, {at[i], std::sqrt(covariance(i, i))}});
  }
}

void Fitter::fill_extras(FitResult& result, Unknowns const& unknowns, Explained const& best) {
  Eigen::VectorXd const& at = best.found.parameters;
  Eigen::VectorXd const& sd = best.found.determination.deviation;
  for (ExtraOutcome& outcome : result.extras) {
    if (!outcome.taken) continue;
    Eigen::Index const i = unknowns.place_of(outcome.extra);
    outcome.value = {at[i], inflation(result) * sd[i]};
    if (outcome.extra != Extra::pulsation) continue;
    double const turn = std::atan2(at[i + 1], at[i]) / (2 * std::numbers::pi);
    outcome.value = {std::hypot(at[i], at[i + 1]),
                     inflation(result) * std::hypot(sd[i], sd[i + 1]) / std::numbers::sqrt2};
    outcome.pulse_turn = turn < 0 ? turn + 1 : turn;
  }
}

void Fitter::fill_doubts(FitResult& result, Unknowns const& unknowns, Explained const& best) {
  LeastSquaresProblem names;
  unknowns.describe(names);
  double const log_s_sd = result.run_on_mm3.sd / result.run_on_mm3.value;
  if (log_s_sd > undetermined_share * Beforehand::log_run_on_sd)
    result.not_determined.emplace_back("run-on");
  if (result.flow_index.sd > undetermined_share * Beforehand::index_sd)
    result.not_determined.emplace_back("flow index");
  if (result.delivered_factor.sd / result.delivered_factor.value >
      undetermined_share * Beforehand::log_factor_sd)
    result.not_determined.emplace_back("delivered factor");
  Eigen::MatrixXd const& correlation = best.found.determination.correlation;
  for (Eigen::Index i = 0; i < unknowns.first_height(); ++i)
    for (Eigen::Index k = 0; k < i; ++k)
      if (std::abs(correlation(i, k)) > strong_correlation)
        result.correlations.push_back(fmt::format("{} and {}: {:.2f}",
                                                  names.names[static_cast<std::size_t>(k)],
                                                  names.names[static_cast<std::size_t>(i)],
                                                  correlation(i, k)));
  if (log_s_sd > aimed_share) {
    double const times = (log_s_sd / aimed_share) * (log_s_sd / aimed_share) - 1;
    result.readings_for_ten_percent = static_cast<int>(std::ceil(times * result.readings));
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
  return Fitter(path, readings, options).run();
}

}  // namespace meltlag::calibrate
