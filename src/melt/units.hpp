// SPDX-License-Identifier: MIT
#pragma once

namespace meltlag::melt {

inline constexpr double pa_per_mpa = 1e6;

}  // namespace meltlag::melt
