// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "cup_share.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/fit/linear_fit.hpp"
#include "store_model.hpp"

namespace meltlag::fit {
namespace {

constexpr int cup_parameters = 3, least_freedom_of_fit = 3;
constexpr int scatter_rounds = 4, bisections = 40;

void check(std::vector<StoreReading> const& cups,
           Sheet const& sheet,
           testpiece::StoreKnowledge const& known) {
  if (cups.size() < cup_parameters + least_freedom_of_fit)
    throw Error(fmt::format("{} {} with a mass {} too few to tell the store",
                            cups.size(),
                            cups.size() == 1 ? "cup" : "cups",
                            cups.size() == 1 ? "is" : "are"),
                {.file = sheet.name()},
                fmt::format("weigh {} or more, with and without bursts",
                            cup_parameters + least_freedom_of_fit));
  std::set<double> lengths;
  for (StoreReading const& reading : cups) lengths.insert(reading.cup.burst_s);
  if (lengths.size() < 3)
    throw Error("the cups hold bursts of too few lengths",
                {.file = sheet.name()},
                "weigh cups of none, of short and of long bursts");
  for (StoreReading const& reading : cups) {
    double const delivered = known.delivered_factor * reading.cup.burst_mm3_s;
    if (known.max_burst_mm3_s && delivered > *known.max_burst_mm3_s * (1 + 1e-9))
      throw Error(
          fmt::format("the bursts ask for {:.3g} mm³/s delivered, more than the {:.3g} mm³/s "
                      "that the screw feeds in a burst: they tell nothing about the store",
                      delivered,
                      *known.max_burst_mm3_s),
          sheet.place(reading.row, "burst_mm3_s"),
          "write the cups anew with the profile that knows max_burst_mm3_s");
  }
}

std::vector<StoreDatum> data_of(std::vector<StoreReading> const& cups,
                                Sheet const& sheet,
                                StoreJudgeOptions const& options) {
  std::vector<StoreDatum> data;
  for (StoreReading const& reading : cups) {
    double const share = 1000 * reading.mass_g / options.density_g_cm3 / reading.cup.commanded_mm3;
    if (share < least_share || share > greatest_share)
      throw Error(
          fmt::format("cup {} holds {:.3g} times what was commanded", reading.cup.number, share),
          sheet.place(reading.row, "mass_g"),
          "is the mass in g without the cup, the density in g/cm³, and did a spreadsheet "
          "change a decimal mark?");
    data.push_back({reading.cup, share, scale_share_sd(share, reading.mass_g, options.scale_g)});
  }
  return data;
}

// The scatter beside the scale's steps with which the residuals are as large as they should be.
double scatter_of(std::vector<StoreDatum> const& data, StoreParameters const& p, int freedom) {
  auto const squares = [&](double scatter) {
    double sum = 0;
    for (StoreDatum const& datum : data)
      sum += std::pow(modelled_share(datum.cup, p) - datum.share, 2) /
             (std::pow(scatter * datum.share, 2) + std::pow(datum.scale_sd, 2));
    return sum;
  };
  double low = 1e-6, high = 1;
  if (squares(low) <= freedom) return low;
  for (int i = 0; i < bisections; ++i) {
    double const middle = std::sqrt(low * high);
    (squares(middle) > freedom ? low : high) = middle;
  }
  return high;
}

class StoreFit {
 public:
  StoreFit(std::vector<StoreDatum> data, testpiece::StoreKnowledge const& known)
      : data_(std::move(data)), known_(known) {
    for (StoreDatum const& datum : data_)
      longest_ =
          std::max(longest_, excess_mm3(datum.cup, known.delivered_factor, known.max_flow_mm3_s));
    for (int i = 0; i < scatter_rounds; ++i) {
      solve();
      scatter_ = scatter_of(data_, best_, freedom());
    }
    solve();
  }

  [[nodiscard]] StoreParameters best() const { return best_; }
  [[nodiscard]] double scatter() const { return scatter_; }
  [[nodiscard]] double longest_mm3() const { return longest_; }
  [[nodiscard]] int freedom() const { return static_cast<int>(data_.size()) - cup_parameters; }

  // How far from the best b the squares rise by `rise`, towards `end`; nothing where they do not.
  [[nodiscard]] std::optional<double> edge(double end, double rise) const {
    if (squares_at(end) - least_ <= rise) return std::nullopt;
    double inside = best_.burst_mm3, outside = end;
    for (int i = 0; i < bisections && std::abs(outside - inside) > 1e-4; ++i) {
      double const middle = (inside + outside) / 2;
      (squares_at(middle) - least_ > rise ? outside : inside) = middle;
    }
    return inside;
  }

 private:
  // Where the lengths saturate is not known beforehand: a start between each two excesses.
  void solve() {
    LeastSquaresProblem const problem = store_problem(data_, known_, scatter_, longest_);
    std::vector<Eigen::VectorXd> starts;
    for (double share = 1; share > 0.02; share /= 2) {
      Eigen::VectorXd start = problem.start;
      start[0] = 0.75 * share * longest_;
      starts.push_back(start);
    }
    LeastSquaresResult const result = solve_from_many(problem, starts).best;
    best_ = {result.parameters[0], result.parameters[1], result.parameters[2]};
    least_ = result.sum_of_squares;
  }

  [[nodiscard]] double squares_at(double burst_mm3) const {
    LeastSquaresProblem problem = store_problem(data_, known_, scatter_, longest_, burst_mm3);
    problem.start[1] = best_.delivered_factor;
    problem.start[2] = best_.max_flow_mm3_s;
    return solve_least_squares(problem).sum_of_squares;
  }

  std::vector<StoreDatum> data_;
  testpiece::StoreKnowledge known_;
  double longest_ = 0, scatter_ = 0.01, least_ = 0;
  StoreParameters best_{};
};

void tell_level(StoreVerdict& verdict, double t) {
  double const below = verdict.burst_mm3 - verdict.low_mm3;
  double const above = verdict.high_mm3 - verdict.burst_mm3;
  if (std::isinf(verdict.high_mm3)) {
    bool const narrow = verdict.low_mm3 >= verdict.longest_excess_mm3 / 2;
    verdict.level = narrow ? StoreLevel::at_least : StoreLevel::cannot_tell;
    verdict.burst_mm3 = verdict.longest_excess_mm3;
    verdict.sd_mm3 = (verdict.burst_mm3 - verdict.low_mm3) / t;
    return;
  }
  verdict.sd_mm3 = std::max(below, above) / t;
  if ((above + below) / 2 > useful_store_mm3)
    verdict.level = StoreLevel::cannot_tell;
  else
    verdict.level = verdict.low_mm3 > 0 ? StoreLevel::told : StoreLevel::none_seen;
}

}  // namespace

StoreVerdict judge_store(std::vector<StoreReading> const& cups,
                         Sheet const& sheet,
                         StoreJudgeOptions const& options) {
  check(cups, sheet, options.known);
  StoreFit const fit(data_of(cups, sheet, options), options.known);
  StoreParameters const best = fit.best();
  double const t = t_of_95_percent(fit.freedom());
  StoreVerdict verdict{.cups = static_cast<int>(cups.size()),
                       .burst_mm3 = best.burst_mm3,
                       .scatter = fit.scatter(),
                       .max_flow_mm3_s = best.max_flow_mm3_s,
                       .delivered_factor = best.delivered_factor,
                       .longest_excess_mm3 = fit.longest_mm3()};
  verdict.low_mm3 = fit.edge(0, t * t).value_or(0);
  verdict.high_mm3 =
      fit.edge(fit.longest_mm3(), t * t).value_or(std::numeric_limits<double>::infinity());
  tell_level(verdict, t);
  double const density = verdict.burst_mm3 * options.density_sd_g_cm3 / options.density_g_cm3;
  verdict.sd_mm3 = std::hypot(verdict.sd_mm3, density);
  return verdict;
}

}  // namespace meltlag::fit
