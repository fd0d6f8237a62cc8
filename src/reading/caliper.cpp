// SPDX-License-Identifier: MIT
#include "meltlag/reading/caliper.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/melt/bead.hpp"

namespace meltlag::reading {
namespace {

constexpr double same_direction = 0.985;  // cosine of the angle between two moves
constexpr double same_place_mm = 1e-6;
constexpr double least_of_jaw = 0.25;

}  // namespace

bool goes_on(gcode::Move const& before, gcode::Move const& after) {
  if (before.arc.radius_mm != 0 || after.arc.radius_mm != 0) return false;
  Vec3 const step = after.start_mm + after.origin_mm - before.end_mm - before.origin_mm;
  return norm(step) <= same_place_mm && dot(gcode::direction_at(before, before.length_mm),
                                            gcode::direction_at(after, 0)) > same_direction;
}

WayRange jaw_range(WayRange const& straight, double at_mm, double jaw_mm) {
  double const low = straight.from_mm, high = straight.to_mm, least = least_of_jaw * jaw_mm;
  double from = std::max(low, at_mm - jaw_mm / 2), to = std::min(high, at_mm + jaw_mm / 2);
  // What left at a standstill at the straight's end belongs to a jaw that begins there.
  if (from - low < same_place_mm) from = low;
  if (high - to < same_place_mm) to = high;
  if (to - from > least) return {from, to};
  if (high - low <= least) return straight;
  return at_mm < (low + high) / 2 ? WayRange{low, low + least} : WayRange{high - least, high};
}

double bead_width_mm(double section_mm2, double height_mm) {
  return std::max(0.0, section_mm2) / height_mm + melt::bead_corner_share * height_mm;
}

SeenWidth seen_width(WidthsAround const& widths) {
  double const slope = (widths.behind_mm - widths.before_mm) / 2;
  double const bend = widths.behind_mm - 2 * widths.here_mm + widths.before_mm;
  return {.value_mm = widths.here_mm + bend / 2,
          .place_sd_mm = std::sqrt(slope * slope + bend * bend / 2),
          .slope_mm = slope};
}

}  // namespace meltlag::reading
