// SPDX-License-Identifier: MIT
// [barrel] [nozzle] [mechanics] [material] [[measured]]: the parts that ought to explain the lag.
// Each may be missing; one that is there must be whole.
#pragma once

#include <string>
#include <vector>

#include "meltlag/profile/profile.hpp"
#include "section.hpp"

namespace meltlag::profile {

void read_barrel(Section const& section, Profile& profile);
void read_nozzle(Section const& section, Profile& profile);
void read_mechanics(Section const& section, Profile& profile);
// Any keys may be missing here. Afterwards the measured lag knows the material's activation energy.
void read_material(Section const& section, Profile& profile);

// The tube of [barrel]; after barrel and material have been read.
void read_heat_barrier(Section const& barrel, Profile& profile);
// [[measured]]; at the top level.
void read_measured(Section const& top, Profile& profile);

// What materials mixed by mass parts make, as keys of [material] with their ranges
// (material_mix.cpp has the rules). `parts` and `materials` belong together.
[[nodiscard]] toml::table mixed(std::vector<double> const& parts,
                                std::vector<toml::table> const& materials);

// Where [material] names a material, fills what it does not say from that material's file.
void lay_material_under(toml::table& root, std::string const& share_dir);

}  // namespace meltlag::profile
