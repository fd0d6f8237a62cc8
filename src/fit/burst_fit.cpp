// SPDX-License-Identifier: MIT
#include "burst_fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "meltlag/fit/store.hpp"

namespace meltlag::fit {
namespace {

constexpr std::size_t fewest_rows = 30;
constexpr double common_sd_mm = 0.01;        // common to all, beside what the lag's rows tell
constexpr double burst_above = 1.1;          // of a refill's flow: a stretch that is a burst
constexpr double slowest_share = 0.5;        // of the bursts' flow, that q is looked for from
constexpr double most_of_excess = 1.05;      // that a store can be told from
constexpr int points = 15, most_rounds = 6;  // of the grids, each way
constexpr std::size_t enough_tries = 25;     // that are likely: the grid shows how sure all is
constexpr std::size_t kept_tries = 12;       // of a grid too coarse for that
constexpr double likely_rise = 14;           // of the squares: beyond it nothing is looked at again
constexpr double starving_rise = 10.8;       // of the squares (χ², one in a thousand)
constexpr double most_residual = 4;
constexpr double least_store_mm3 = 0.1;  // nothing to schedule with below

using Rows = std::vector<reading::Reading>;

Rows burst_rows(reading::PrintedPath const& path, Rows const& all) {
  Rows out;
  for (reading::Reading const& reading : all) {
    if (reading.kind != reading::ReadingKind::width || reading.length_mm <= 0) continue;
    reading::TraceMark const* const mark = path.mark_of(reading.lines.front());
    if (mark != nullptr && mark->group == "burst") out.push_back(reading);
  }
  auto const way = [&](reading::Reading const& reading) {
    return path.moves[path.move_of_line.at(reading.lines.front())].way_mm + reading.at_mm.front();
  };
  std::stable_sort(
      out.begin(), out.end(), [&](auto const& a, auto const& b) { return way(a) < way(b); });
  return out;
}

// The bursts as the file has them: their flow, and for how long the longest one lasts.
struct Asked {
  double commanded_mm3_s = 0, longest_s = 0;
};

Asked asked_by(reading::PrintedPath const& path) {
  Asked out;
  std::vector<std::pair<double, double>> flows;  // flow, seconds
  for (reading::PathMove const& move : path.moves) {
    gcode::Move const& meant = move.timed.move;
    reading::TraceMark const* const mark = path.mark_of(meant.line);
    if (meant.kind != gcode::MoveKind::print || mark == nullptr || mark->group != "burst") continue;
    double const peak = move.timed.speed.peak_mm_s;
    flows.emplace_back(meant.volume_mm3 / move.timed.speed.length_mm * peak,
                       move.timed.speed.duration_s());
    out.commanded_mm3_s = std::max(out.commanded_mm3_s, flows.back().first);
  }
  double run_s = 0;
  for (auto const& [flow, seconds] : flows) {
    run_s = flow * burst_above > out.commanded_mm3_s ? run_s + seconds : 0;
    out.longest_s = std::max(out.longest_s, run_s);
  }
  return out;
}

class BurstFit {
 public:
  BurstFit(DenseModel const& model, Eigen::VectorXd const& at, Asked const& asked)
      : model_(model), at_(at), plant_(model.plant(at)) {
    asked_mm3_s_ = plant_.plant.feed.delivered_factor * asked.commanded_mm3_s;
    longest_s_ = asked.longest_s;
    Eigen::VectorXd moved = at;
    moved[DenseModel::offset] += common_sd_mm;
    Eigen::VectorXd const here = model_.residuals_of(plant_, at_);
    by_offset_ = model_.residuals_of(plant_, moved) - here;
    unlimited_ = squares(here);
  }

  void run() {
    low_q_ = slowest_share * asked_mm3_s_;
    high_q_ = 1.02 * asked_mm3_s_;
    high_u_ = std::sqrt(most_of_excess);
    lay_grid();
    for (int round = 1; round < most_rounds && likely_tries() < enough_tries; ++round) {
      close_in();
      lay_grid();
    }
  }

  [[nodiscard]] bool starves() const { return unlimited_ - least_ > starving_rise; }
  [[nodiscard]] double asked_mm3_s() const { return asked_mm3_s_; }
  [[nodiscard]] Value flow() const {
    return mean_of([](Try const& t) { return t.q; });
  }
  [[nodiscard]] Value store() const {
    return mean_of([](Try const& t) { return t.b; });
  }
  [[nodiscard]] double excess_mm3(double q) const { return (asked_mm3_s_ - q) * longest_s_; }
  // b below which this share of the likelihood lies.
  [[nodiscard]] double store_below(double share) const {
    std::vector<Try> tries = tries_;
    std::sort(tries.begin(), tries.end(), [](Try const& a, Try const& b) { return a.b < b.b; });
    double sum = 0, all = 0;
    for (Try const& t : tries) all += likelihood(t);
    for (Try const& t : tries) {
      sum += likelihood(t);
      if (sum >= share * all) return t.b;
    }
    return tries.back().b;
  }

 private:
  // u² is the store as a share of what the longest burst asks for above q, so that a grid of u is
  // fine where stores are small, and nowhere beyond what the print can show.
  struct Try {
    double q, u, b, squares;
  };

  // The least over the common offset, each residual counted up to a bound.
  [[nodiscard]] double squares(Eigen::VectorXd const& residuals) const {
    Eigen::VectorXd const bounded = residuals.cwiseMax(-most_residual).cwiseMin(most_residual);
    double const slope = by_offset_.dot(bounded), bend = by_offset_.squaredNorm() + 1;
    return bounded.squaredNorm() - slope * slope / bend;
  }
  [[nodiscard]] Try try_at(double q, double u) const {
    reading::TestedPlant limited = plant_;
    double const b = u * u * std::max(0.0, excess_mm3(q));
    limited.plant.supply = {.max_flow_mm3_s = q, .burst_mm3 = b};
    return {q, u, b, squares(model_.residuals_of(limited, at_))};
  }
  void lay_grid() {
    tries_.clear();
    for (int i = 0; i < points; ++i)
      for (int k = 0; k < points; ++k)
        tries_.push_back(try_at(low_q_ + (high_q_ - low_q_) * i / (points - 1),
                                low_u_ + (high_u_ - low_u_) * k / (points - 1)));
    least_ = std::min_element(tries_.begin(), tries_.end(), [](Try const& a, Try const& b) {
               return a.squares < b.squares;
             })->squares;
  }
  [[nodiscard]] double likely_squares() const { return least_ + likely_rise * inflation(); }
  [[nodiscard]] std::size_t likely_tries() const {
    return static_cast<std::size_t>(std::count_if(
        tries_.begin(), tries_.end(), [&](Try const& t) { return t.squares < likely_squares(); }));
  }
  // The box of what is likely, or best where the grid is too coarse for that, and one step around
  // it.
  void close_in() {
    std::vector<double> sorted;
    for (Try const& t : tries_) sorted.push_back(t.squares);
    std::nth_element(sorted.begin(), sorted.begin() + kept_tries, sorted.end());
    double const kept = std::max(likely_squares(), sorted[kept_tries]);
    double const step_q = (high_q_ - low_q_) / (points - 1),
                 step_u = (high_u_ - low_u_) / (points - 1);
    double from_q = high_q_, to_q = low_q_, from_u = high_u_, to_u = low_u_;
    for (Try const& t : tries_) {
      if (t.squares > kept) continue;
      from_q = std::min(from_q, t.q);
      to_q = std::max(to_q, t.q);
      from_u = std::min(from_u, t.u);
      to_u = std::max(to_u, t.u);
    }
    low_q_ = std::max(low_q_, from_q - step_q);
    high_q_ = std::min(high_q_, to_q + step_q);
    low_u_ = std::max(low_u_, from_u - step_u);
    high_u_ = std::min(high_u_, to_u + step_u);
  }
  // Residuals larger than they should be make all less sure.
  [[nodiscard]] double inflation() const {
    return std::max(1.0, least_ / static_cast<double>(model_.rows()));
  }
  // Times the store that a step of u stands for.
  [[nodiscard]] double likelihood(Try const& t) const {
    double const step = (high_u_ - low_u_) / (points - 1);
    double const store = std::max(0.0, excess_mm3(t.q)) * std::max(2 * t.u, step / 2);
    return store * std::exp(-(t.squares - least_) / inflation() / 2);
  }
  template <class What>
  [[nodiscard]] Value mean_of(What const& what) const {
    double all = 0, mean = 0, square = 0;
    for (Try const& t : tries_) all += likelihood(t);
    for (Try const& t : tries_) mean += likelihood(t) / all * what(t);
    for (Try const& t : tries_) square += likelihood(t) / all * (what(t) - mean) * (what(t) - mean);
    return {mean, std::sqrt(square)};
  }

  DenseModel const& model_;
  Eigen::VectorXd const& at_;
  reading::TestedPlant plant_;
  Eigen::VectorXd by_offset_;
  double asked_mm3_s_ = 0, longest_s_ = 0, unlimited_ = 0, least_ = 0;
  double low_q_ = 0, high_q_ = 0, low_u_ = 0, high_u_ = 0;
  std::vector<Try> tries_;
};

// As for cups (fit/store.hpp).
BurstOutcome::Store store_level(BurstOutcome const& outcome) {
  using Store = BurstOutcome::Store;
  if (outcome.high_mm3 > 0.9 * outcome.longest_mm3)
    return outcome.low_mm3 > outcome.longest_mm3 / 2 ? Store::at_least : Store::cannot_tell;
  if ((outcome.high_mm3 - outcome.low_mm3) / 2 > useful_store_mm3) return Store::cannot_tell;
  return outcome.low_mm3 > least_store_mm3 ? Store::told : Store::none_seen;
}

}  // namespace

std::optional<BurstOutcome> fit_bursts(reading::PrintedPath const& path,
                                       std::vector<reading::Reading> const& all,
                                       FitOptions const& options,
                                       DenseModel const& model,
                                       Eigen::VectorXd const& at,
                                       Eigen::MatrixXd const& covariance) {
  Rows const rows = burst_rows(path, all);
  if (rows.size() < fewest_rows) return std::nullopt;
  DenseModel bursts(path, rows, options, model.reference_flow_mm3_s(), model.middle());
  bursts.set_errors(model.errors(), at);
  BurstFit fit(bursts, at, asked_by(path));
  fit.run();
  BurstOutcome out;
  out.starves = fit.starves();
  out.asked_mm3_s = fit.asked_mm3_s();
  if (!out.starves) return out;
  out.max_flow_mm3_s = fit.flow();
  // What arrives is known no better than the delivered factor.
  double const factor_sd = std::sqrt(covariance(Unknowns::log_factor, Unknowns::log_factor));
  out.max_flow_mm3_s.sd = std::hypot(out.max_flow_mm3_s.sd, factor_sd * out.max_flow_mm3_s.value);
  out.longest_mm3 = fit.excess_mm3(out.max_flow_mm3_s.value);
  out.burst_mm3 = fit.store();
  out.low_mm3 = fit.store_below(0.025);
  out.high_mm3 = fit.store_below(0.975);
  out.store = store_level(out);
  return out;
}

}  // namespace meltlag::fit
