// SPDX-License-Identifier: MIT
// How an adapted file does where the lag is another than believed.
#pragma once

#include <string>

#include "meltlag/adapt/adapt_file.hpp"

namespace meltlag::adapt {

// Judges the file once for each plant that stands for the uncertainty, two at a time.
[[nodiscard]] SpreadFigures judge_over(schedule::LagSpread const& spread,
                                       std::string const& original,
                                       std::string const& emitted,
                                       judge::JudgeOptions const& options);

}  // namespace meltlag::adapt
