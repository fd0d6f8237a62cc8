// SPDX-License-Identifier: MIT
#pragma once

#include "meltlag/adapt/adapt_options.hpp"
#include "meltlag/profile/profile.hpp"

namespace meltlag::cli {

// All that `adapt` takes from a profile.
[[nodiscard]] adapt::AdaptOptions adapt_options(profile::Profile const& profile);

}  // namespace meltlag::cli
