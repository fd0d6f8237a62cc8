// SPDX-License-Identifier: MIT
// What several rooms count as the same, or as more than a recovery.
#pragma once

namespace meltlag::gcode {

inline constexpr double same_z_mm = 1e-4;  // heights of one layer

// A restart that feeds more than this above what its retract took is a purge; the greater counts.
inline constexpr double restart_extra_mm3 = 1.0;
inline constexpr double restart_extra_share = 0.05;

}  // namespace meltlag::gcode
