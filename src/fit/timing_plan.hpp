// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include "meltlag/fit/timing.hpp"

namespace meltlag::fit {

// Comment lines round each block of the file.
inline constexpr std::string_view block_begins = "; timing block ", block_ends = "; end of block";

// How long the block's moves take under options.limits, s.
[[nodiscard]] double planned_block_s(std::string const& gcode, TimingOptions const& options);

}  // namespace meltlag::fit
