// SPDX-License-Identifier: MIT
// What a cup may have delivered of what was commanded.
#pragma once

namespace meltlag::fit {

// Beyond these, the grams, the density or E are wrong.
inline constexpr double least_share = 0.1, greatest_share = 3;

}  // namespace meltlag::fit
