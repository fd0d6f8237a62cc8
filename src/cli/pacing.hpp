// SPDX-License-Identifier: MIT
// How much print time `adapt` may spend, and what it buys.
#pragma once

#include <optional>
#include <string>

#include "meltlag/adapt/adapt.hpp"
#include "meltlag/adapt/pace.hpp"
#include "meltlag/judge/judge.hpp"

namespace meltlag::cli {

struct PaceCommandOptions {
  std::string extra_time, target;  // as typed; empty: not given
};

// "15%" or "15" → 0.15. Throws CLI::ValidationError naming `option`.
[[nodiscard]] double share_of(std::string const& text, std::string const& option);

// The pass that was chosen.
struct PaceChoice {
  double price_mm3_per_s = 0;
  double extra_share = 0, added_s = 0;  // beyond the file as sliced
  double allowed_share = 0;             // what was granted, or what the target takes
  std::optional<double> target;         // the share asked for
  double misplaced_share = 0;           // as scheduled
  double unpaced_share = 0;             // the same without pace
  adapt::LimitTimes limits;
};

// Chooses the price for what is granted or aimed at; no choice where neither is.
[[nodiscard]] std::optional<PaceChoice> choose_pace(PaceCommandOptions const& request,
                                                    std::string const& file,
                                                    adapt::AdaptOptions const& options);

// What it costs, in words; said before anything is written.
[[nodiscard]] std::string to_text(PaceChoice const& choice);

}  // namespace meltlag::cli
