// SPDX-License-Identifier: MIT
#include "over_spread.hpp"

#include <algorithm>
#include <array>

#include "meltlag/base/parallel.hpp"
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
  std::array<double, schedule::scenario_count> shares{};
  in_parallel(shares.size(), 0, [&](std::size_t i) {
    auto const part = [](std::size_t at) {
      return static_cast<double>(at) / schedule::scenario_count;
    };
    Task const task("judging over the lag's \u00b1", part(i), part(i + 1));
    shares[i] = misplaced_in(scenarios[i], original, emitted, options);
  });
  SpreadFigures out{1e9, 0, 0};
  for (std::size_t i = 0; i < shares.size(); ++i) {
    out.least = std::min(out.least, shares[i]);
    out.greatest = std::max(out.greatest, shares[i]);
    out.mean += scenarios[i].weight * shares[i];
  }
  return out;
}

}  // namespace meltlag::adapt
