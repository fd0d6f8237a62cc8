// SPDX-License-Identifier: MIT
// The reduced picture with what was found on it.
#pragma once

#include <string>

#include "bead_reader.hpp"
#include "pose.hpp"

namespace meltlag::scan {

// PNG: edges of believed places green, places left out red, the path blue where nothing was found.
[[nodiscard]] std::string make_overlay(Reduced const& reduced,
                                       Metric const& metric,
                                       Pose const& pose,
                                       Trail const& trail,
                                       ReadBead const& bead);

}  // namespace meltlag::scan
