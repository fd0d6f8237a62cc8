// SPDX-License-Identifier: MIT
#include "meltlag/fit/plan_readings.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "candidates.hpp"
#include "fit_model.hpp"
#include "information.hpp"

namespace meltlag::fit {
namespace {

constexpr double run_ons_mm3[] = {0.3, 0.75, 1.8, 4.3, 10};
constexpr double indices[] = {0.35, 0.6, 0.95};
constexpr double reference_flow_mm3_s = 4;
constexpr double apart_mm = 4;        // between two readings of a trace: a jaw's length
constexpr double steepest_mm = 0.12;  // change of width within the place error, mean over machines
constexpr double bare_share = 0.5;    // of the machines may leave no bead to measure
constexpr int seen_layers = 2;
constexpr int most_rounds = 6;  // of exchanges

// All candidates as one machine shows them.
struct Seen {
  double run_on_mm3, flow_index;
  std::vector<reading::Predicted> predicted;
  std::vector<Sensitivity> sensitivities;
};

class Planner {
 public:
  Planner(testpiece::TestPiece const& piece,
          reading::PrintedPath const& path,
          PlanOptions const& options)
      : options_(options), widths_(width_candidates(piece)) {
    bool const weigh = options.predictor.density_g_cm3 > 0;
    std::vector<reading::Reading> const others = other_candidates(
        piece,
        reading::bead_width_mm(piece.section_mm2, options.predictor.layer_height_mm),
        weigh ? Scale::at_hand : Scale::none);
    all_ = widths_;
    all_.insert(all_.end(), others.begin(), others.end());
    for (reading::Reading const& reading : all_) {
      auto const [trace, added] = traces_.emplace(reading.trace, traces_.size());
      trace_of_.push_back(trace->second);
    }
    find_standstills(path);
    look(path);
  }

  ReadingPlan plan() {
    for (std::size_t m = 0; m < machines_.size(); ++m)
      information_.emplace_back(
          traces_.size(), beforehand(), options_.predictor.errors.layer_height_mm);
    find_allowed();
    choose();
    exchange();
    return made();
  }

 private:
  // What leaves while the head stands makes a lump: no bead to lay calipers on.
  void find_standstills(reading::PrintedPath const& path) {
    std::vector<double> ways;
    for (reading::PathRest const& rest : path.rests)
      if (rest.before_move < path.moves.size()) ways.push_back(path.moves[rest.before_move].way_mm);
    for (reading::PathMove const& move : path.moves)
      if (move.timed.move.kind == gcode::MoveKind::e_only) ways.push_back(move.way_mm);
    std::sort(ways.begin(), ways.end());
    reading::MeasuringErrors const& errors = options_.predictor.errors;
    double const clear = errors.jaw_mm / 2 + errors.place_mm;
    for (reading::Reading const& width : widths_) {
      reading::PathMove const& move = path.moves[path.move_of_line.at(width.lines.front())];
      double const way = move.way_mm + width.at_mm.front();
      auto const next = std::lower_bound(ways.begin(), ways.end(), way - clear);
      lumps_.push_back(next != ways.end() && *next < way + clear);
    }
  }

  void look(reading::PrintedPath const& path) {
    reading::PredictorOptions quick = options_.predictor;
    quick.most_layers = seen_layers;
    reading::Predictor const predictor(path, all_, quick);
    for (double const run_on : run_ons_mm3)
      for (double const index : indices) machines_.push_back(seen(predictor, run_on, index));
  }

  [[nodiscard]] reading::Laid laid(reading::Predictor const& predictor,
                                   double log_s,
                                   double n,
                                   double log_f) const {
    reading::TestedPlant tested{.plant = {.law = {.run_on_mm3 = std::exp(log_s),
                                                  .at_flow_mm3_s = reference_flow_mm3_s,
                                                  .flow_index = n,
                                                  .at_c = {},
                                                  .activation_kj_mol = {}},
                                          .feed = options_.feed}};
    tested.plant.feed.delivered_factor = std::exp(log_f);
    return predictor.simulate(tested);
  }

  [[nodiscard]] Seen seen(reading::Predictor const& predictor, double run_on, double n) const {
    constexpr double h = 0.02, dh = 0.002;
    double const s = std::log(run_on), height = options_.predictor.layer_height_mm;
    reading::Laid const here = laid(predictor, s, n, 0);
    reading::Laid const sides[3][2] = {{laid(predictor, s - h, n, 0), laid(predictor, s + h, n, 0)},
                                       {laid(predictor, s, n - h, 0), laid(predictor, s, n + h, 0)},
                                       {laid(predictor, s, n, -h), laid(predictor, s, n, h)}};
    Seen out{.run_on_mm3 = run_on, .flow_index = n, .predicted = {}, .sensitivities = {}};
    for (std::size_t i = 0; i < all_.size(); ++i) {
      auto const value = [&](reading::Laid const& l, double at) {
        return predictor.predict(l, i, at).value;
      };
      reading::Predicted const predicted = predictor.predict(here, i, height);
      Sensitivity one;
      for (int k = 0; k < 3; ++k)
        one.by_plant[k] =
            (value(sides[k][1], height) - value(sides[k][0], height)) / (2 * h * predicted.sd);
      one.by_height =
          (value(here, height + dh) - value(here, height - dh)) / (2 * dh * predicted.sd);
      out.predicted.push_back(predicted);
      out.sensitivities.push_back(one);
    }
    return out;
  }

  [[nodiscard]] static Eigen::Matrix3d beforehand() {
    // The run-on is held plausible at another flow than the reference's.
    double const q = std::log(Beforehand::flow_mm3_s / reference_flow_mm3_s);
    Eigen::Vector3d const run_on(1, q, 0);
    Eigen::Matrix3d out =
        run_on * run_on.transpose() / (Beforehand::log_run_on_sd * Beforehand::log_run_on_sd);
    out(1, 1) += 1 / (Beforehand::index_sd * Beforehand::index_sd);
    out(2, 2) += 1 / (Beforehand::log_factor_sd * Beforehand::log_factor_sd);
    return out;
  }

  // Not on the steepest flank, nor at lumps, nor where many machines leave no bead.
  void find_allowed() {
    auto const count = static_cast<double>(machines_.size());
    for (std::size_t i = 0; i < widths_.size(); ++i) {
      double steep = 0, bare = 0;
      for (Seen const& seen : machines_) {
        steep += std::abs(seen.predicted[i].slope_per_mm) * options_.predictor.errors.place_mm;
        bare += seen.predicted[i].thin ? 1 : 0;
      }
      bool const middling_is_bare = machines_[machines_.size() / 2].predicted[i].thin;
      allowed_.push_back(!lumps_[i] && !middling_is_bare && steep / count <= steepest_mm &&
                         bare / count <= bare_share);
    }
  }

  [[nodiscard]] bool is_free(std::size_t candidate) const {
    return allowed_[candidate] &&
           std::none_of(chosen_.begin(), chosen_.end(), [&](std::size_t other) {
             return trace_of_[other] == trace_of_[candidate] &&
                    std::abs(all_[other].ruler_mm - all_[candidate].ruler_mm) < apart_mm;
           });
  }
  [[nodiscard]] double spread_with(std::size_t candidate) const {
    double sum = 0;
    for (std::size_t m = 0; m < machines_.size(); ++m)
      sum += information_[m].log_spread_after(
          machines_[m].sensitivities[candidate], trace_of_[candidate], Information::Change::add);
    return sum;
  }
  [[nodiscard]] double spread_without(std::size_t candidate) const {
    double sum = 0;
    for (std::size_t m = 0; m < machines_.size(); ++m)
      sum += information_[m].log_spread_after(
          machines_[m].sensitivities[candidate], trace_of_[candidate], Information::Change::take);
    return sum;
  }
  void change(std::size_t candidate, Information::Change change) {
    for (std::size_t m = 0; m < machines_.size(); ++m)
      information_[m].change(machines_[m].sensitivities[candidate], trace_of_[candidate], change);
  }
  // The best width to add; the number of widths where none is free.
  [[nodiscard]] std::size_t best_addition() const {
    std::size_t best = widths_.size();
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < widths_.size(); ++i) {
      if (!is_free(i)) continue;
      double const spread = spread_with(i);
      if (spread < least) {
        least = spread;
        best = i;
      }
    }
    return best;
  }

  void choose() {
    while (chosen_.size() < static_cast<std::size_t>(options_.readings)) {
      std::size_t const best = best_addition();
      if (best == widths_.size()) return;
      change(best, Information::Change::add);
      chosen_.push_back(best);
    }
  }
  void exchange() {
    for (int round = 0; round < most_rounds; ++round) {
      bool changed = false;
      for (std::size_t k = 0; k < chosen_.size(); ++k) {
        std::size_t const old = chosen_[k];
        change(old, Information::Change::take);
        chosen_.erase(chosen_.begin() + static_cast<std::ptrdiff_t>(k));
        std::size_t const best = best_addition();
        chosen_.insert(chosen_.begin() + static_cast<std::ptrdiff_t>(k), best);
        change(best, Information::Change::add);
        changed = changed || best != old;
      }
      if (!changed) return;
    }
  }

  [[nodiscard]] ReadingPlan made() {
    ReadingPlan plan;
    plan.chosen = static_cast<int>(chosen_.size());
    plan.expected = expected();
    std::stable_sort(chosen_.begin(), chosen_.end(), [&](std::size_t a, std::size_t b) {
      return spread_without(a) > spread_without(b);
    });
    std::vector<std::size_t> others;
    for (std::size_t i = widths_.size(); i < all_.size(); ++i)
      if (all_[i].kind != reading::ReadingKind::height || is_read(trace_of_[i]))
        others.push_back(i);
    std::stable_sort(others.begin(), others.end(), [&](std::size_t a, std::size_t b) {
      return spread_with(a) < spread_with(b);
    });
    for (std::vector<std::size_t> const* list : {&chosen_, &others})
      for (std::size_t const i : *list) add_row(plan, i);
    return plan;
  }
  [[nodiscard]] bool is_read(std::size_t trace) const {
    return std::any_of(
        chosen_.begin(), chosen_.end(), [&](std::size_t i) { return trace_of_[i] == trace; });
  }
  void add_row(ReadingPlan& plan, std::size_t candidate) const {
    reading::Reading reading = all_[candidate];
    reading.row = static_cast<int>(plan.readings.size()) + 1;
    Seen const& middling = machines_[machines_.size() / 2];
    reading.expected = middling.predicted[candidate].value;
    plan.readings.push_back(std::move(reading));
  }

  // With the middle index, at its first, middle and last run-on.
  [[nodiscard]] std::vector<ExpectedPrecision> expected() const {
    std::vector<ExpectedPrecision> out;
    std::size_t const per_run_on = std::size(indices);
    for (std::size_t const run_on :
         {std::size_t{0}, std::size(run_ons_mm3) / 2, std::size(run_ons_mm3) - 1}) {
      std::size_t const m = run_on * per_run_on + per_run_on / 2;
      Eigen::Matrix3d const covariance = information_[m].covariance();
      double const s = machines_[m].run_on_mm3, n = machines_[m].flow_index;
      double const lag = n * s / reference_flow_mm3_s;
      double const lag_share =
          std::sqrt(covariance(0, 0) + 2 * covariance(0, 1) / n + covariance(1, 1) / (n * n));
      out.push_back({.run_on_mm3 = s,
                     .flow_mm3_s = reference_flow_mm3_s,
                     .flow_index = n,
                     .run_on_sd_mm3 = s * std::sqrt(covariance(0, 0)),
                     .flow_index_sd = std::sqrt(covariance(1, 1)),
                     .lag_s = lag,
                     .lag_sd_s = lag * lag_share,
                     .factor_sd = std::sqrt(covariance(2, 2))});
    }
    return out;
  }

  PlanOptions const& options_;
  std::vector<reading::Reading> widths_, all_;
  std::map<std::string, std::size_t> traces_;
  std::vector<std::size_t> trace_of_;
  std::vector<Seen> machines_;
  std::vector<Information> information_;
  std::vector<bool> lumps_, allowed_;  // one a width
  std::vector<std::size_t> chosen_;
};

}  // namespace

ReadingPlan plan_readings(testpiece::TestPiece const& piece,
                          reading::PrintedPath const& path,
                          PlanOptions const& options) {
  return Planner(piece, path, options).plan();
}

}  // namespace meltlag::fit
