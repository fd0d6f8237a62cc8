// SPDX-License-Identifier: MIT
#include "over_spread.hpp"

#include <algorithm>
#include <future>

#include "meltlag/base/progress.hpp"

namespace meltlag::adapt {
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

}  // namespace meltlag::adapt
