// SPDX-License-Identifier: MIT
// How much print time `adapt` may spend, and what it buys, in words.
#pragma once

#include <string>

#include "meltlag/adapt/pace.hpp"

namespace meltlag::cli {

struct PaceCommandOptions {
  std::string extra_time, target;  // as typed; empty: not given
};

// "15%" or "15" → 0.15. Throws CLI::ValidationError naming `option`.
[[nodiscard]] double share_of(std::string const& text, std::string const& option);
[[nodiscard]] adapt::TimeGrant grant_of(PaceCommandOptions const& request);

// Throws Error that says what holds the screw, and what can be reached.
[[noreturn]] void throw_out_of_reach(adapt::PaceChoice const& choice, std::string const& file);

// What it costs.
[[nodiscard]] std::string to_text(adapt::PaceChoice const& choice);

}  // namespace meltlag::cli
