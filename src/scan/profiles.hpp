// SPDX-License-Identifier: MIT
// Colours across the bead at every point of the trail, taken from the picture in one pass over its
// rows, so that only a band of rows is held.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "pose.hpp"

namespace meltlag::scan {

struct Profiles {
  double step_mm = 0, half_mm = 0;
  std::size_t count = 0;          // places across each
  std::vector<std::uint8_t> rgb;  // point by point, from −half_mm (right) to +half_mm (left)
  bool coarse_colour = false;     // PictureSize
  std::vector<bool> in_picture;   // of each point

  [[nodiscard]] std::uint8_t const* of(std::size_t point) const { return &rgb[3 * count * point]; }
  [[nodiscard]] double at(double index) const { return index * step_mm - half_mm; }
};

inline constexpr double profile_half_mm = 2.5;

[[nodiscard]] Profiles take_profiles(std::string const& path,
                                     Metric const& metric,
                                     Pose const& pose,
                                     Trail const& trail);

}  // namespace meltlag::scan
