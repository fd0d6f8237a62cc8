// SPDX-License-Identifier: MIT
// The scale's word on the delivered factor: what a whole part weighs.
#pragma once

#include <string>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/compare/comparison.hpp"

namespace meltlag::compare {

struct PartMass {
  double mass_g = 0, predicted_g = 0;
  double purged_g = 0;  // taken to lie elsewhere: E alone beyond what it repays
  // What the mass makes of the factor: factor · mass/predicted, as volume goes with the factor.
  double delivered_factor = 0, delivered_factor_sd = 0;
  double profile_factor = 0;
};

// The part is what leaves the nozzle from the first bead to the file's end, brim and skirt with it.
// Throws Error where the density is not known or the file prints nothing.
[[nodiscard]] PartMass weigh_part(std::string const& printed,
                                  double mass_g,
                                  CompareOptions const& options,
                                  Notices& notices);

}  // namespace meltlag::compare
