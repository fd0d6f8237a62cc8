// SPDX-License-Identifier: MIT
// A commented profile to begin with: every key explained, those with a value set, the others as a
// comment.
#pragma once

#include <map>
#include <string>

#include "meltlag/profile/settings_report.hpp"

namespace meltlag::profile {

// TOML text of values by their full name: {"lag.run_on_mm3", "5.0"}, {"title", "\"Auger\""}.
using StarterValues = std::map<std::string, std::string>;

// Every known key once, in sections, with its meaning. REQUIRES: names of `values` are known keys.
[[nodiscard]] std::string starter(StarterValues const& values);

// What a printer's report says, under the names of [machine]. Axes that it leaves out are left out.
[[nodiscard]] StarterValues machine_values(SettingsReport const& report);

}  // namespace meltlag::profile
