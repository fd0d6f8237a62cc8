// SPDX-License-Identifier: MIT
#include "fit_search.hpp"

#include <fmt/format.h>

#include <Eigen/QR>
#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>
#include <limits>

#include "meltlag/base/progress.hpp"

namespace meltlag::fit {
namespace {

constexpr int fewest_readings = 5;
constexpr int quick_layers = 3;  // looked at until the last round
constexpr double tukey = 4.685;  // 95 % efficiency on normal errors (Huber, Robust Statistics)
constexpr std::size_t most_extras = 2;
constexpr double taken_below = 0.003;  // chance of an extra that is not there
constexpr double least_gain = 9;       // of twice the cost, that an extra has to bring
constexpr double plausible_factors[] = {0.7, 1.4};

void refuse_poor(std::vector<reading::Reading> const& readings,
                 reading::Predictor const& predictor) {
  int usable = 0, widths = 0;
  double least = std::numeric_limits<double>::infinity(), most = 0;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (!predictor.usable(i)) continue;
    ++usable;
    if (readings[i].kind != reading::ReadingKind::width) continue;
    ++widths;
    least = std::min(least, *readings[i].value);
    most = std::max(most, *readings[i].value);
  }
  Place const place = readings.empty() ? Place{} : Place{.file = readings.front().place.file};
  if (usable < fewest_readings)
    throw Error(
        fmt::format("{} readings cannot determine the lag", usable),
        place,
        fmt::format("fill in the value of at least {} rows; 20 give a useful ±", fewest_readings));
  if (widths == usable && most - least < 1e-9)
    throw Error(
        fmt::format("all {} readings are {:g}: a lag shows where widths differ", widths, most),
        place,
        "measure every row at the place that its trace and ruler_mm name");
}

std::vector<std::string> traces_of(std::vector<reading::Reading> const& readings) {
  std::vector<std::string> traces;
  for (reading::Reading const& reading : readings)
    if (reading.kind != reading::ReadingKind::mass &&
        std::find(traces.begin(), traces.end(), reading.trace) == traces.end())
      traces.push_back(reading.trace);
  return traces;
}

reading::PredictorOptions quick(reading::PredictorOptions options) {
  options.most_layers = quick_layers;
  return options;
}

// The same machine with more unknowns, those at their start.
Eigen::VectorXd widened(Unknowns const& from, Unknowns const& to, Eigen::VectorXd const& at) {
  Eigen::VectorXd start = to.start(1, 1);
  start.head(from.first_height()) = at.head(from.first_height());
  start.tail(static_cast<Eigen::Index>(to.traces().size())) =
      at.tail(static_cast<Eigen::Index>(from.traces().size()));
  return start;
}

}  // namespace

Flows flows_of(reading::PrintedPath const& path, std::vector<reading::Reading> const& readings) {
  double slow = std::numeric_limits<double>::infinity(), fast = 0;
  for (reading::Reading const& reading : readings) {
    for (std::int64_t const line : reading.lines) {
      reading::PathMove const& move = path.moves[path.move_of_line.at(line)];
      double const flow =
          move.timed.move.kind == gcode::MoveKind::print
              ? move.timed.move.volume_mm3 / move.timed.speed.length_mm * move.timed.speed.peak_mm_s
              : 0;
      if (flow <= 0) continue;
      slow = std::min(slow, flow);
      fast = std::max(fast, flow);
    }
  }
  if (fast <= 0) return {2, 4, 8};
  return {slow, std::sqrt(slow * fast), fast};
}

Search::Search(reading::PrintedPath const& path,
               std::vector<reading::Reading> const& readings,
               FitOptions const& options)
    : path_(path),
      readings_(readings),
      options_(options),
      flows_(flows_of(path, readings)),
      traces_(traces_of(readings)),
      quick_(path, readings, quick(options.predictor)),
      whole_(path, readings, options.predictor) {}

void Search::run() {
  refuse_poor(readings_, whole_);
  for (std::size_t i = 0; i < readings_.size(); ++i) left_out_.push_back(!whole_.usable(i));
  unknowns_.emplace(options_, flows_.middle, traces_, std::vector<Extra>{});
  std::optional<Task> task(std::in_place, "run-on and flow index", 0, 0.2);
  best_ = rounds(quick_, *unknowns_, best_start(*unknowns_), 2);
  task.emplace("what else the print may show", 0.2, 0.5);
  find_extras();
  task.emplace("all layers", 0.5, 0.8);
  best_ = rounds(whole_, *unknowns_, best_.found.parameters, 1);
  task.emplace("all layers, without feed trouble", 0.8, 1);
  leave_out_feed_trouble();
}

LeastSquaresResult Search::solve(Unknowns const& unknowns,
                                 Residuals& residuals,
                                 Eigen::VectorXd const& start) {
  LeastSquaresProblem problem;
  unknowns.describe(problem);
  problem.start = start;
  problem.residuals = [&](Eigen::VectorXd const& at) { return residuals(at); };
  int steps = 0;
  problem.jacobian = [&](Eigen::VectorXd const& at) {
    constexpr double usual_steps = 6;  // nobody knows how many it takes: never quite done
    tell_progress(steps / (steps + usual_steps));
    ++steps;
    return residuals.jacobian(at);
  };
  return solve_least_squares(problem,
                             {.loss = Loss::tukey,
                              .loss_scale = tukey,
                              .most_iterations = 40,
                              .function_tolerance = 1e-5,
                              .gradient_tolerance = 1e-6,
                              .parameter_tolerance = 1e-4});
}

// A few machines across what is plausible; the one that explains most.
Eigen::VectorXd Search::best_start(Unknowns const& unknowns) {
  Residuals residuals(quick_, readings_, unknowns);
  residuals.leave_out(left_out_);
  bands_.assign(readings_.size(), {std::numeric_limits<double>::infinity(), 0});
  Eigen::VectorXd best;
  double least = std::numeric_limits<double>::infinity();
  for (double const run_on : {0.25, 0.8, 2.0, 4.5, 10.0}) {
    for (double const index : {0.35, 0.9}) {
      Eigen::VectorXd const at = unknowns.start(run_on, index);
      std::vector<reading::Predicted> const predicted = residuals.predict(at);
      widen_bands(predicted);
      double sum = 0;
      for (std::size_t i = 0; i < predicted.size(); ++i) {
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

void Search::widen_bands(std::vector<reading::Predicted> const& predicted) {
  for (std::size_t i = 0; i < predicted.size(); ++i) {
    bands_[i].least = std::min(bands_[i].least, plausible_factors[0] * predicted[i].value);
    bands_[i].most = std::max(bands_[i].most, plausible_factors[1] * predicted[i].value);
  }
}

Explained Search::rounds(reading::Predictor const& predictor,
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
bool Search::can_show(Extra extra) const {
  bool const reverses =
      std::any_of(path_.moves.begin(), path_.moves.end(), [](reading::PathMove const& m) {
        return m.timed.move.e_mm < 0;
      });
  switch (extra) {
    case Extra::backlash:
      return reverses && options_.feed.backlash_mm == 0;
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

// Forward selection: the extra that chance explains least is taken, as long as chance hardly would.
void Search::find_extras() {
  std::vector<Extra> left{
      Extra::backlash, Extra::reverse_factor, Extra::leak, Extra::creep, Extra::pulsation};
  for (Extra const extra : left) extras_.push_back({.extra = extra, .value = {}});
  std::erase_if(left, [&](Extra extra) { return !can_show(extra); });
  while (!left.empty() && unknowns_->extras().size() < most_extras) {
    std::optional<Found> chosen;
    for (Extra const extra : left) {
      ExtraOutcome& outcome = extras_[static_cast<std::size_t>(extra)];
      outcome.tried = true;
      Unknowns const more = with(extra);
      if (promised_gain(more) < least_gain / 2) continue;
      Found found = try_with(extra, more);
      outcome.chance = std::min(outcome.chance, found.chance);
      bool const gains = best_.twice_cost - found.explained.twice_cost > least_gain;
      if (!gains || found.chance >= taken_below) continue;
      if (!chosen || found.chance < chosen->chance) chosen.emplace(std::move(found));
    }
    if (!chosen) return;
    extras_[static_cast<std::size_t>(chosen->extra)].taken = true;
    unknowns_ = std::move(chosen->unknowns);
    best_ = std::move(chosen->explained);
    std::erase(left, chosen->extra);
  }
}

Unknowns Search::with(Extra extra) const {
  std::vector<Extra> extras = unknowns_->extras();
  extras.push_back(extra);
  return {options_, flows_.middle, traces_, extras};
}

// What the added unknowns could take off twice the cost if all were linear.
double Search::promised_gain(Unknowns const& more) const {
  Eigen::VectorXd const at = widened(*unknowns_, more, best_.found.parameters);
  Residuals residuals(quick_, readings_, more);
  residuals.leave_out(left_out_);
  residuals.settle(at);
  Eigen::VectorXd root = Eigen::VectorXd::Ones(residuals(at).size());
  root.head(static_cast<Eigen::Index>(readings_.size())) =
      best_.found.weights.head(static_cast<Eigen::Index>(readings_.size())).cwiseSqrt();
  Eigen::MatrixXd const jacobian = root.asDiagonal() * residuals.jacobian(at);
  Eigen::VectorXd const off = root.asDiagonal() * residuals(at);
  Eigen::VectorXd const left = off - jacobian * jacobian.colPivHouseholderQr().solve(off);
  return best_.twice_cost - left.squaredNorm();
}

Search::Found Search::try_with(Extra extra, Unknowns const& more) {
  Explained explained = rounds(quick_, more, widened(*unknowns_, more, best_.found.parameters), 1);
  double const chance = chance_of(explained, more.size() - unknowns_->size());
  return {extra, chance, more, std::move(explained)};
}

// F-test of the added unknowns; the readings' own errors are known, so that a scatter below them
// proves nothing.
double Search::chance_of(Explained const& with, Eigen::Index added) const {
  double const spare = static_cast<double>(readings_.size()) - 3 - static_cast<double>(added);
  if (spare < 1) return 1;
  double const gain = (best_.twice_cost - with.twice_cost) / static_cast<double>(added);
  double const noise = std::max(1.0, with.twice_cost / spare);
  if (gain <= 0) return 1;
  boost::math::fisher_f const f(static_cast<double>(added), spare);
  return boost::math::cdf(boost::math::complement(f, gain / noise));
}

void Search::leave_out_feed_trouble() {
  std::vector<RowOutcome> const outcomes = judged();
  bool any = false;
  for (std::size_t i = 0; i < outcomes.size(); ++i)
    if (outcomes[i].verdict == RowVerdict::feed_trouble) left_out_[i] = any = true;
  if (any) best_ = rounds(whole_, *unknowns_, best_.found.parameters, 1);
}

std::vector<RowOutcome> Search::judged() const {
  Residuals residuals(whole_, readings_, *unknowns_);
  return judge_rows(
      path_, readings_, residuals.predict(best_.found.parameters), best_.found.weights, bands_);
}

}  // namespace meltlag::fit
