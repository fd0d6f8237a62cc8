// SPDX-License-Identifier: MIT
#include "refit.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/progress.hpp"

namespace meltlag::compare {
namespace {

constexpr int rounds = 4;
constexpr double longest_step = 0.7;  // of a logarithm, in one round
constexpr double small_step = 2e-3;   // below, no further round
constexpr double vague_sd = 0.3;      // of a logarithm: these rows do not determine it
constexpr double enough_sd = 0.2;
// Rows that are further off than so many deviations weigh less (Huber's weights; the deviation
// from the median, which strays do not move).
constexpr double stray = 3, sd_per_median = 1.4826;
constexpr int weightings = 3;

enum class Free : std::uint8_t { both, factor };

// Influences as columns: run-on and factor as logarithms, then the clock.
struct Columns {
  std::vector<double> offs, run_on, factor, clock;
};

Columns columns_of(RowPredictor const& predictor,
                   SimulatedPrint const& laid,
                   std::span<ComparedRow const> rows,
                   Influence const& run_on,
                   Influence const& factor) {
  Columns out;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    RowValue const base = predictor.value(laid, i, as_profiled);
    auto const slope = [&](Influence const& influence) {
      return (predictor.value(laid, i, influence.machine).value - base.value) / influence.step *
             influence.value;
    };
    out.offs.push_back(rows[i].measured.value - base.value);
    out.run_on.push_back(slope(run_on));
    out.factor.push_back(slope(factor));
    out.clock.push_back(base.per_second);
  }
  return out;
}

class Refitter {
 public:
  Refitter(std::string const& printed,
           RowPredictor const& predictor,
           CompareOptions const& options,
           PrintComparison const& out)
      : printed_(printed), predictor_(predictor), options_(options), rows_(out.rows) {
    for (ComparedRow const& row : rows_) sds_.push_back(row.tool_sd);
    weighing_sds_ = sds_;
    clock_free_ = out.clock && out.clock->found;
  }

  // False where these rows do not determine it.
  bool run(Columns const& first, Free free) {
    Columns columns = first;
    run_on_ = factor_ = 0;
    for (int round = 0; round < rounds; ++round) {
      Slopes const step = solve(columns, free);
      if (!step.determined) return false;
      if (round == 0) before_ = step.chi2_before;
      take(step, free);
      if (round == 0 && (run_on_sd_ > vague_sd || factor_sd_ > vague_sd)) return false;
      after_ = step.chi2_after;
      left_ = left_of(columns, step, free);
      double const longest = std::max(std::abs(step.b[0]), std::abs(step.b[free == Free::both]));
      if (longest < small_step) break;
      if (round + 1 == rounds) break;
      Task const task("", round / (rounds - 1.0), (round + 1) / (rounds - 1.0));
      columns = again();
    }
    return run_on_sd_ <= enough_sd && factor_sd_ <= enough_sd;
  }

  Refit result(std::size_t rows) const {
    return {.run_on = std::exp(run_on_),
            .run_on_sd = run_on_sd_ * std::exp(run_on_),
            .delivered_factor = std::exp(factor_),
            .delivered_factor_sd = factor_sd_ * std::exp(factor_),
            .chi2_before = before_,
            .chi2_after = after_,
            .rows = rows};
  }
  [[nodiscard]] std::vector<double> const& left() const { return left_; }

 private:
  [[nodiscard]] std::vector<std::vector<double>> slopes(Columns const& c, Free free) const {
    std::vector<std::vector<double>> out{c.factor};
    if (free == Free::both) out.push_back(c.run_on);
    if (clock_free_) out.push_back(c.clock);
    return out;
  }
  [[nodiscard]] Slopes solve(Columns const& c, Free free) {
    weighing_sds_ = sds_;
    Slopes out = fit_slopes(c.offs, weighing_sds_, slopes(c, free));
    for (int round = 0; round < weightings && out.determined; ++round) {
      weigh(left_of(c, out, free));
      out = fit_slopes(c.offs, weighing_sds_, slopes(c, free));
    }
    return out;
  }
  void weigh(std::vector<double> const& left) {
    std::vector<double> far;
    for (std::size_t i = 0; i < left.size(); ++i) far.push_back(std::abs(left[i]) / sds_[i]);
    std::vector<double> sorted = far;
    auto const middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::ranges::nth_element(sorted, middle);
    double const usual = stray * std::max(1.0, sd_per_median * *middle);
    for (std::size_t i = 0; i < far.size(); ++i)
      weighing_sds_[i] = sds_[i] * std::sqrt(std::max(1.0, far[i] / usual));
  }
  void take(Slopes const& step, Free free) {
    factor_ += std::clamp(step.b[0], -longest_step, longest_step);
    factor_sd_ = step.sd[0];
    run_on_sd_ = 0;
    if (free == Free::factor) return;
    run_on_ += std::clamp(step.b[1], -longest_step, longest_step);
    run_on_sd_ = step.sd[1];
  }
  [[nodiscard]] std::vector<double> left_of(Columns const& c, Slopes const& step, Free free) const {
    std::vector<double> left = c.offs;
    std::vector<std::vector<double>> const by = slopes(c, free);
    for (std::size_t j = 0; j < by.size(); ++j)
      for (std::size_t i = 0; i < left.size(); ++i) left[i] -= step.b[j] * by[j][i];
    return left;
  }
  [[nodiscard]] Columns again() const {
    melt::PlantParameters plant = options_.plant;
    plant.law.run_on_mm3 *= std::exp(run_on_);
    plant.feed.delivered_factor *= std::exp(factor_);
    Machines machines = machines_of(plant, {});
    machines.plants.resize(machines.influences[1].machine + 1);  // only these two are looked at
    Notices told_already;
    SimulatedPrint const laid = simulate_print(
        printed_, machines.plants, predictor_.marks(), options_.program, told_already);
    return columns_of(predictor_, laid, rows_, machines.influences[0], machines.influences[1]);
  }

  std::string const& printed_;
  RowPredictor const& predictor_;
  CompareOptions const& options_;
  std::vector<ComparedRow> const& rows_;
  std::vector<double> sds_, weighing_sds_, left_;
  bool clock_free_ = false;
  double run_on_ = 0, factor_ = 0, run_on_sd_ = 0, factor_sd_ = 0, before_ = 0, after_ = 0;
};

}  // namespace

std::vector<double> refit(std::string const& printed,
                          RowPredictor const& predictor,
                          SimulatedPrint const& laid,
                          Machines const& machines,
                          CompareOptions const& options,
                          PrintComparison& out) {
  Columns const first =
      columns_of(predictor, laid, out.rows, machines.influences[0], machines.influences[1]);
  Refitter refitter(printed, predictor, options, out);
  for (Free const free : {Free::both, Free::factor}) {
    if (!refitter.run(first, free)) continue;
    out.refit = refitter.result(out.rows.size());
    return refitter.left();
  }
  out.refit.rows = out.rows.size();
  for (ComparedRow const& row : out.rows)
    out.refit.chi2_before += std::pow(row.off() / row.tool_sd, 2);
  out.refit.chi2_after = out.refit.chi2_before;
  return first.offs;
}

}  // namespace meltlag::compare
