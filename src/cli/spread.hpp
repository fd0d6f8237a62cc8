// SPDX-License-Identifier: MIT
// How well the lag is known, and what that means for an adapted file.
#pragma once

#include <string>

#include "meltlag/judge/judge.hpp"
#include "meltlag/profile/profile.hpp"
#include "meltlag/schedule/robust.hpp"

namespace meltlag::cli {

// What the profile's _sd keys of [lag] say; zeros where they are not there.
[[nodiscard]] schedule::LagSpread lag_spread(profile::Profile const& profile);
// The same; throws Error where they are not there.
[[nodiscard]] schedule::LagSpread required_spread(profile::Profile const& profile);

// Misplaced shares of one emitted file over the plants that stand for the uncertainty.
struct SpreadFigures {
  double least = 0, mean = 0, greatest = 0;
};

[[nodiscard]] SpreadFigures judge_over(schedule::LagSpread const& spread,
                                       std::string const& original,
                                       std::string const& emitted,
                                       judge::JudgeOptions const& options);

[[nodiscard]] std::string to_text(SpreadFigures const& figures);
[[nodiscard]] std::string sentence(SpreadFigures const& figures);

}  // namespace meltlag::cli
