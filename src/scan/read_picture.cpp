// SPDX-License-Identifier: MIT
#include "read_picture.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "meltlag/base/error.hpp"

namespace meltlag::scan {
namespace {

constexpr int reduced_side_px = 2000;
constexpr double coarsest_pixel_mm = 0.13;  // 195 dpi

// Beads are about as wide as the nozzle.
double bead_area_mm2(Trail const& trail, double nozzle_mm) {
  auto const prints = std::count_if(trail.points.begin(),
                                    trail.points.end(),
                                    [](TrailPoint const& point) { return point.prints; });
  return static_cast<double>(prints) * trail_step_mm * nozzle_mm;
}

void refuse_coarse(Metric const& metric, std::string const& path) {
  if (metric.pixel_mm <= coarsest_pixel_mm) return;
  throw Error(
      fmt::format("a pixel of the picture shows {:.2f} mm of the page ({:.0f} dpi): too coarse "
                  "for beads",
                  metric.pixel_mm,
                  25.4 / metric.pixel_mm),
      {.file = path},
      "Scan at 300 dpi or more, or take a photo that the page fills.");
}

}  // namespace

ReadPicture read_picture(std::string const& path,
                         Trail const& trail,
                         FindPose find,
                         ScanOptions const& options) {
  ReadPicture out;
  out.reduced = read_reduced(path, reduced_side_px);
  out.metric = find_metric(out.reduced, {options.bar_x_mm, options.bar_y_mm}, path);
  refuse_coarse(out.metric, path);
  Field const field =
      find_field(out.reduced, out.metric, bead_area_mm2(trail, options.nozzle_mm), path);
  out.contrast = field.contrast;
  out.pose = find(field, trail, path);
  out.profiles = take_profiles(path, out.metric, out.pose, trail);
  return out;
}

ReadBead read_bead(ReadPicture const& picture, Trail const& trail, ScanOptions const& options) {
  return read_bead(picture.profiles,
                   trail,
                   {.nozzle_mm = options.nozzle_mm,
                    .pixel_mm = picture.metric.pixel_mm,
                    .contrast = picture.contrast});
}

}  // namespace meltlag::scan
