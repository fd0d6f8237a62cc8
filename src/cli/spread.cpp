// SPDX-License-Identifier: MIT
#include "spread.hpp"

#include <algorithm>
#include <future>

#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::cli {
namespace {

double misplaced_in(schedule::Scenario const& scenario,
                    std::string const& original,
                    std::string const& emitted,
                    judge::JudgeOptions options) {
  options.plant.law = schedule::law_in(scenario, options.plant.law);
  options.prove = judge::Prove::figures_only;
  Notices unused;
  return judge::judge_files(original, emitted, options, unused, nullptr).after.misplaced_share();
}

}  // namespace

schedule::LagSpread lag_spread(profile::Profile const& profile) {
  if (!profile.measured_lag) return {};
  auto const sd = [&](char const* key) {
    auto const found = profile.sd.find(key);
    return found == profile.sd.end() ? 0.0 : found->second;
  };
  return {sd("lag.run_on_mm3") / profile.measured_lag->run_on_mm3,
          sd("lag.flow_index"),
          profile.lag_origin.run_on_flow_index_correlation};
}

schedule::LagSpread required_spread(profile::Profile const& profile) {
  schedule::LagSpread const spread = lag_spread(profile);
  if (spread.known()) return spread;
  throw Error("does not say how well the lag is known",
              {.file = profile.path},
              "Add run_on_mm3_sd and flow_index_sd to [lag], or leave --robust out.");
}

SpreadFigures judge_over(schedule::LagSpread const& spread,
                         std::string const& original,
                         std::string const& emitted,
                         judge::JudgeOptions const& options) {
  schedule::Scenarios const scenarios = schedule::scenarios_of(spread);
  SpreadFigures out{1e9, 0, 0};
  auto const take = [&](schedule::Scenario const& scenario, double share) {
    out.least = std::min(out.least, share);
    out.greatest = std::max(out.greatest, share);
    out.mean += scenario.weight * share;
  };
  for (std::size_t i = 0; i < scenarios.size(); i += 2) {
    auto second = std::async(std::launch::async, [&, i] {
      return misplaced_in(scenarios[i + 1], original, emitted, options);
    });
    auto const part = [](std::size_t at) {
      return static_cast<double>(at) / schedule::scenario_count;
    };
    Task const task("judging over the lag's \u00b1", part(i), part(i + 2));
    take(scenarios[i], misplaced_in(scenarios[i], original, emitted, options));
    take(scenarios[i + 1], second.get());
  }
  static_assert(schedule::scenario_count % 2 == 0);
  return out;
}

std::string sentence(SpreadFigures const& figures) {
  return "With the lag as uncertain as the profile says, misplaced plastic is " +
         report::percent(figures.least) + " to " + report::percent(figures.greatest) + ", " +
         report::percent(figures.mean) + " on average.";
}

std::string to_text(SpreadFigures const& figures) {
  return "misplaced, by the lag's ±    " + report::percent(figures.least) + " to " +
         report::percent(figures.greatest) + ", " + report::percent(figures.mean) + " on average\n";
}

}  // namespace meltlag::cli
