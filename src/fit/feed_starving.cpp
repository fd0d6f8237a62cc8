// SPDX-License-Identifier: MIT
#include "feed_starving.hpp"

#include <fmt/format.h>

#include <cmath>

#include "meltlag/base/error.hpp"

namespace meltlag::fit {
namespace {

constexpr std::size_t fewest_starved = 6;

// The delivered flow without what stood ready when the cup began.
double long_flow_mm3_s(CupShare const& cup, double store_mm3) {
  double const seconds = cup.reading.commanded_mm3 / cup.reading.flow_mm3_s;
  return cup.share * cup.reading.flow_mm3_s - store_mm3 / seconds;
}

struct Split {
  std::size_t fed_flows;
  LinearFit fit;  // ln f where a flow is fed, ln q where one starves, the drift
};

Split split_at(std::vector<CupShare> const& cups,
               std::vector<double> const& flows,
               std::size_t fed_flows,
               double store_mm3) {
  double middle = 0;
  for (CupShare const& cup : cups) middle += cup.reading.number / static_cast<double>(cups.size());
  std::vector<double> logs, fed, starved, order;
  for (CupShare const& cup : cups) {
    bool const is_fed = fed_flows > 0 && cup.reading.flow_mm3_s <= flows[fed_flows - 1];
    // A store beyond all reason would leave nothing to take the logarithm of.
    logs.push_back(std::log(is_fed ? cup.share : std::max(1e-9, long_flow_mm3_s(cup, store_mm3))));
    fed.push_back(is_fed ? 1 : 0);
    starved.push_back(is_fed ? 0 : 1);
    order.push_back(cup.reading.number - middle);
  }
  std::vector<std::vector<double>> columns;
  if (fed_flows > 0) columns.push_back(fed);
  if (fed_flows < flows.size()) columns.push_back(starved);
  columns.push_back(order);
  return {fed_flows, fit_linear(logs, columns)};
}

// Delivered, the mean over the cups of one flow.
double mean_flow_mm3_s(std::vector<CupShare> const& cups, double asked_mm3_s, double store_mm3) {
  double sum = 0, count = 0;
  for (CupShare const& cup : cups) {
    if (cup.reading.flow_mm3_s != asked_mm3_s) continue;
    sum += long_flow_mm3_s(cup, store_mm3);
    ++count;
  }
  return sum / count;
}

struct Level {
  double log_mm3_s, deviation;
  int freedom;
};

// Cups that starve may scatter unlike those that are fed: with enough of them their own scatter is
// estimated.
Level starved_level(Split const& split,
                    std::vector<CupShare> const& cups,
                    std::vector<double> const& flows,
                    double store_mm3) {
  std::vector<CupShare> starved;
  for (CupShare const& cup : cups)
    if (cup.reading.flow_mm3_s > flows[split.fed_flows - 1]) starved.push_back(cup);
  if (starved.size() < fewest_starved)
    return {split.fit.coefficients[1], split.fit.standard_errors[1], split.fit.freedom};
  LinearFit const own = split_at(starved, flows, 0, store_mm3).fit;
  return {own.coefficients[0], own.standard_errors[0], own.freedom};
}

ChangePoint told(Split const& split,
                 std::vector<CupShare> const& cups,
                 std::vector<double> const& flows,
                 double store_mm3) {
  double const below = flows[split.fed_flows - 1], top = flows.back();
  double const asked = std::exp(split.fit.coefficients[0]) * (top - below);
  double const arrived = mean_flow_mm3_s(cups, top, store_mm3) - mean_flow_mm3_s(cups, below, 0);
  Level const level = starved_level(split, cups, flows, store_mm3);
  return {.fed_flows = split.fed_flows,
          .level_mm3_s = std::exp(level.log_mm3_s),
          .level_share_sd = level.deviation,
          .freedom = level.freedom,
          .arrived_share = arrived / asked,
          .test = test_nested(split_at(cups, flows, flows.size(), store_mm3).fit, split.fit)};
}

[[noreturn]] void refuse_all_starved(LinearFit const& fit, Sheet const& sheet) {
  double const level = std::exp(fit.coefficients[0]);
  throw Error(fmt::format("every flow starves: cups hold {:.3g} mm³/s whatever was asked", level),
              {.file = sheet.name()},
              fmt::format("run flows that begin at about {:.2g} mm³/s: the delivered factor needs "
                          "cups that are fed",
                          level / 4));
}

}  // namespace

std::optional<ChangePoint> find_change(std::vector<CupShare> const& cups,
                                       std::vector<double> const& flows,
                                       double store_mm3,
                                       Sheet const& sheet) {
  if (flows.size() < 2) return std::nullopt;
  LinearFit const one_level = split_at(cups, flows, flows.size(), store_mm3).fit;
  Split best = split_at(cups, flows, 1, store_mm3);
  Split const all_starve = split_at(cups, flows, 0, store_mm3);
  for (std::size_t fed = 2; fed < flows.size(); ++fed) {
    Split split = split_at(cups, flows, fed, store_mm3);
    if (split.fit.residual_squares < best.fit.residual_squares) best = std::move(split);
  }
  ChangePoint const change = told(best, cups, flows, store_mm3);
  if (change.test.p >= starving_p || change.arrived_share >= 1) return std::nullopt;
  bool const first_may_starve = best.fed_flows == 1 &&
                                all_starve.fit.residual_squares < one_level.residual_squares &&
                                test_nested(all_starve.fit, best.fit).p >= significant_p;
  if (first_may_starve) refuse_all_starved(all_starve.fit, sheet);
  return change;
}

}  // namespace meltlag::fit
