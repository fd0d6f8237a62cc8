// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <array>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/fit/linear_fit.hpp"
#include "store_model.hpp"

namespace meltlag::fit {
namespace {

constexpr std::array excesses_mm3{1.0, 2.0, 4.0, 8.0};
constexpr int cups_each = 2;
constexpr double slow_share = 0.2;     // of what the screw feeds, between bursts
constexpr double refill_margin = 1.5;  // the slow flow fills so many times the longest excess
constexpr double burst_share = 2;      // of what the screw feeds, in a burst
constexpr double least_burst_share = 1.3;
constexpr double burst_below = 0.95;  // of the most that it feeds in one, where that is known
constexpr double shortest_burst_s = 0.02;
constexpr double guessed_store_mm3 = 1, guessed_scatter = 0.01;
constexpr int burst_step = 25;

double burst_flow_mm3_s(testpiece::StorePlanOptions const& options) {
  testpiece::StoreKnowledge const& known = options.known;
  double delivered = burst_share * known.max_flow_mm3_s;
  if (known.max_burst_mm3_s) delivered = std::min(delivered, burst_below * *known.max_burst_mm3_s);
  double commanded = delivered / known.delivered_factor;
  if (options.most_mm3_s) commanded = std::min(commanded, *options.most_mm3_s);
  if (commanded * known.delivered_factor < least_burst_share * known.max_flow_mm3_s)
    throw Error(
        fmt::format(
            "cannot tell the store: bursts could only run at {:.3g} mm³/s delivered, hardly "
            "more than the {:.3g} mm³/s that the screw feeds for long",
            commanded * known.delivered_factor,
            known.max_flow_mm3_s),
        {},
        "where --burst-to or max_burst_mm3_s holds them down and more is safe, give more; else "
        "there is nothing to gain from a store");
  return commanded;
}

// With the excess that is asked for; 0 for none.
testpiece::StoreCup cup_of(testpiece::StorePlanOptions const& options,
                           double excess_mm3,
                           double settle_s,
                           int bursts) {
  testpiece::StoreKnowledge const& known = options.known;
  double const f = known.delivered_factor;
  testpiece::StoreCup cup{.bursts = bursts,
                          .flow_mm3_s = slow_share * known.max_flow_mm3_s / f,
                          .burst_mm3_s = burst_flow_mm3_s(options),
                          .rise_mm3_s2 = options.rise_mm3_s2};
  double const above = f * cup.burst_mm3_s - known.max_flow_mm3_s;
  if (excess_mm3 > 0) cup.burst_s = excess_mm3 / above - above / (f * cup.rise_mm3_s2);
  cup.commanded_mm3 = bursts * (cup.flow_mm3_s * settle_s + testpiece::burst_volume_mm3(cup));
  return cup;
}

testpiece::StorePlan plan_with(testpiece::StorePlanOptions const& options, int bursts) {
  testpiece::StorePlan plan;
  double const slow = slow_share * options.known.max_flow_mm3_s;
  plan.settle_s = refill_margin * excesses_mm3.back() / (options.known.max_flow_mm3_s - slow);
  for (int round = 0; round < cups_each; ++round) {
    plan.cups.push_back(cup_of(options, 0, plan.settle_s, bursts));
    for (double const excess : excesses_mm3) {
      testpiece::StoreCup const cup = cup_of(options, excess, plan.settle_s, bursts);
      if (cup.burst_s >= shortest_burst_s) plan.cups.push_back(cup);
    }
  }
  return plan;
}

double expected_plus_minus(testpiece::StorePlan const& plan,
                           testpiece::StorePlanOptions const& options) {
  StoreParameters const guessed{
      guessed_store_mm3, options.known.delivered_factor, options.known.max_flow_mm3_s};
  std::vector<StoreDatum> data;
  for (testpiece::StoreCup const& cup : plan.cups) {
    double const share = modelled_share(cup, guessed);
    double const mass_g = share * cup.commanded_mm3 * options.density_g_cm3 / 1000;
    data.push_back({cup, share, scale_share_sd(share, mass_g, options.scale_g)});
  }
  LeastSquaresProblem const problem =
      store_problem(data, options.known, guessed_scatter, 2 * excesses_mm3.back());
  Eigen::Vector3d const at(guessed.burst_mm3, guessed.delivered_factor, guessed.max_flow_mm3_s);
  Determination const told = determine(problem.jacobian(at), problem.names, 1e-9);
  return t_of_95_percent(static_cast<int>(data.size()) - 3) * told.deviation[0];
}

std::string what_helps(testpiece::StorePlanOptions options, int bursts) {
  for (double const scale_g : {0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001}) {
    if (scale_g >= options.scale_g) continue;
    options.scale_g = scale_g;
    if (expected_plus_minus(plan_with(options, bursts), options) <= useful_store_mm3)
      return fmt::format("a useful answer is within ± {} mm³: take a scale that resolves {} g{}",
                         useful_store_mm3,
                         scale_g,
                         options.bursts_per_cup ? ", or leave --bursts out" : "");
  }
  return fmt::format(
      "a useful answer is within ± {} mm³: know max_flow_mm3_s and delivered_factor better first, "
      "with more cups{}",
      useful_store_mm3,
      options.bursts_per_cup ? ", or leave --bursts out" : "");
}

}  // namespace

testpiece::StorePlan plan_store_cups(testpiece::StorePlanOptions const& options) {
  int const least = options.bursts_per_cup.value_or(testpiece::least_bursts);
  int const most = options.bursts_per_cup.value_or(testpiece::most_bursts);
  testpiece::StorePlan plan;
  for (int bursts = least; bursts <= most; bursts += burst_step) {
    plan = plan_with(options, bursts);
    if (plan.cups.size() < 3 * cups_each)
      throw Error("cannot tell the store: E speeds up too slowly for short bursts",
                  {.file = "[machine] max_acceleration_mm_s2"},
                  "raise E's acceleration, or retract_acceleration_mm_s2 where that is less");
    plan.plus_minus_mm3 = expected_plus_minus(plan, options);
    if (plan.plus_minus_mm3 <= useful_store_mm3) return plan;
  }
  throw Error(
      fmt::format("cannot tell the store: {} bursts in a cup and a scale that resolves {:g} "
                  "g would leave ± {:.2g} mm³",
                  most,
                  options.scale_g,
                  plan.plus_minus_mm3),
      {},
      what_helps(options, most));
}

testpiece::FeedProgram plan_feed_program(testpiece::FeedOptions const& options) {
  if (options.store_cups == testpiece::StoreCups::none)
    return testpiece::make_feed_program(options);
  return testpiece::make_feed_program(options,
                                      plan_store_cups(testpiece::store_plan_options(options)));
}

}  // namespace meltlag::fit
