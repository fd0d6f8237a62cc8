// SPDX-License-Identifier: MIT
// How fast the hardware piece retracts and recovers.
#pragma once

#include <string>
#include <vector>

#include "meltlag/testpiece/hardware_piece.hpp"
#include "test_piece_settings.hpp"

namespace meltlag::testpiece::piece {

// mm/s of E. Recovery feeds forward as fast as the retract went back. Throws Error where a given
// retract breaks a limit; lowers one that was left to choice and says so.
[[nodiscard]] double retract_speed(HardwareOptions const& options,
                                   Bead const& bead,
                                   std::vector<std::string>& remarks);

}  // namespace meltlag::testpiece::piece
