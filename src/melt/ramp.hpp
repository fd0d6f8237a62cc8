// SPDX-License-Identifier: MIT
// Volume rates that are linear in time.
#pragma once

#include <algorithm>
#include <cmath>

#include "meltlag/melt/supply.hpp"

namespace meltlag::melt {

inline double rate_at(Ramp const& ramp, double t_s) {
  return ramp.start_mm3_s + (ramp.end_mm3_s - ramp.start_mm3_s) * (t_s / ramp.duration_s);
}

// The first time at which a ramp of one sign has brought |volume|; its duration where it does not.
inline double time_to_bring(Ramp const& ramp, double volume_mm3) {
  double const u = std::abs(ramp.start_mm3_s), v = std::abs(volume_mm3);
  if (v == 0) return 0;
  double const slope = (std::abs(ramp.end_mm3_s) - u) / ramp.duration_s;
  double const under_root = u * u + 2 * slope * v;
  if (under_root < 0) return ramp.duration_s;
  double const denominator = u + std::sqrt(under_root);
  return denominator > 0 ? std::min(ramp.duration_s, 2 * v / denominator) : ramp.duration_s;
}

}  // namespace meltlag::melt
