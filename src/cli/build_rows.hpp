// SPDX-License-Identifier: MIT
// What `causes` and `builds` share.
#pragma once

#include <array>
#include <optional>
#include <string>

#include "meltlag/profile/profile.hpp"
#include "meltlag/report/builds.hpp"

namespace meltlag::cli {

// The measured lag with its deviations, where there is one.
[[nodiscard]] std::optional<melt::MeasuredLag> measured_lag(profile::Profile const& profile);

// A fifth, half and all of what the screw feeds, or of twice the lag's flow.
[[nodiscard]] std::array<double, 3> three_flows(profile::Profile const& profile);

struct RowOptions {
  double at_flow_mm3_s;
  std::array<double, 3> flows_mm3_s;
  std::string file;  // predicted as sliced; empty: none
};
// Throws Error where the profile has no lag at all.
[[nodiscard]] report::BuildRow build_row(profile::Profile const& profile,
                                         RowOptions const& options);

}  // namespace meltlag::cli
