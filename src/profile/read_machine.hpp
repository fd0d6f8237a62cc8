// SPDX-License-Identifier: MIT
// [machine]: motion limits, from keys or from the printer's own report.
#pragma once

#include "meltlag/profile/profile.hpp"
#include "section.hpp"

namespace meltlag::profile {

void read_machine(Section const& section, Profile& profile);

}  // namespace meltlag::profile
