// SPDX-License-Identifier: MIT
// Colours across the bead at every point of the trail, taken from the picture in one pass over its
// rows, so that only a band of rows is held.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "pose.hpp"

namespace meltlag::scan {

struct Profiles {
  double step_mm = 0, half_mm = 0;
  std::size_t count = 0;             // places across each
  std::size_t channels = 3;          // of each place: red, green, blue; of two pictures twice that
  std::vector<std::uint8_t> levels;  // point by point, from −half_mm (right) to +half_mm (left)
  bool coarse_colour = false;        // PictureSize
  std::vector<bool> in_picture;      // of each point

  [[nodiscard]] std::uint8_t const* of(std::size_t point, std::size_t place) const {
    return &levels[channels * (count * point + place)];
  }
  [[nodiscard]] double at(double index) const { return index * step_mm - half_mm; }
};

inline constexpr std::size_t most_channels = 6;
using Colour = std::array<double, most_channels>;  // as many as there are channels, then zeros

inline constexpr double usual_shadow = 0.4;  // of the page's light, that a shadow takes at most

inline constexpr double profile_half_mm = 2.5;

// Between places across the bead, for pixels of this size.
[[nodiscard]] double profile_step_mm(double pixel_mm);

[[nodiscard]] Profiles take_profiles(std::string const& path,
                                     Metric const& metric,
                                     Pose const& pose,
                                     Trail const& trail,
                                     double step_mm);

}  // namespace meltlag::scan
