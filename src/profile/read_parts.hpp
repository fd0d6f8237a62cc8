// SPDX-License-Identifier: MIT
// [barrel] [nozzle] [mechanics] [material]: the parts that ought to explain the lag. Each may be
// missing; one that is there must be whole.
#pragma once

#include <string>

#include "meltlag/profile/profile.hpp"
#include "section.hpp"

namespace meltlag::profile {

void read_barrel(Section const& section, Profile& profile);
void read_nozzle(Section const& section, Profile& profile);
void read_mechanics(Section const& section, Profile& profile);
// Any keys may be missing here. Afterwards the measured lag knows the material's activation energy.
void read_material(Section const& section, Profile& profile);

// Where [material] names a material, fills what it does not say from that material's file.
void lay_material_under(toml::table& root, std::string const& share_dir);

}  // namespace meltlag::profile
