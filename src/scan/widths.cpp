// SPDX-License-Identifier: MIT
#include "meltlag/scan/widths.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "along.hpp"
#include "bead_reader.hpp"
#include "meltlag/base/error.hpp"
#include "overlay.hpp"
#include "runs.hpp"

namespace meltlag::scan {
namespace {

constexpr int reduced_side_px = 2000;
constexpr double coarsest_pixel_mm = 0.13;  // 195 dpi
constexpr double least_read = 0.3;          // of the path

// Beads are about as wide as the nozzle.
double bead_area_mm2(Trail const& trail, double nozzle_mm) {
  auto const prints = std::count_if(trail.points.begin(),
                                    trail.points.end(),
                                    [](TrailPoint const& point) { return point.prints; });
  return static_cast<double>(prints) * trail_step_mm * nozzle_mm;
}

void count_places(ScanResult& result) {
  int steps = 0, prints = 0, good = 0;
  std::vector<double> scatter;
  for (Width const& width : result.widths) {
    if (!width.prints) continue;
    ++prints;
    ++result.places[static_cast<std::size_t>(width.doubt)];
    if (width.doubt == Doubt::at_step) ++steps;
    if (width.doubt != Doubt::none) continue;
    ++good;
    scatter.push_back(width.sd_mm);
  }
  result.read_share = good / std::max(1.0, static_cast<double>(prints - steps));
  if (!scatter.empty()) result.scatter_mm = median_of(scatter);
}

void state_found(ScanResult& result, Metric const& metric, Pose const& pose, ReadBead const& bead) {
  result.pixel_mm = metric.pixel_mm;
  result.blur_mm = bead.blur_mm;
  result.marks = metric.marks;
  result.marks_scatter_mm = metric.scatter_mm;
  result.picture_mirrored = metric.mirrored;
  result.face_down = pose.face_down;
  result.turn_deg = pose.turn_rad * 180 / std::numbers::pi;
  result.piece_scale = pose.scale;
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

void refuse_unread(ScanResult const& result, std::string const& path) {
  if (result.read_share >= least_read) return;
  std::size_t worst = 1;
  for (std::size_t i = 1; i < doubt_count; ++i)
    if (i != static_cast<std::size_t>(Doubt::at_step) && result.places[i] > result.places[worst])
      worst = i;
  throw Error(fmt::format("only {:.0f} % of the path can be read; most of the rest: {}",
                          100 * result.read_share,
                          name_of(static_cast<Doubt>(worst))),
              {.file = path},
              "Take a sharp picture in even light on a background that the plastic is not.");
}

}  // namespace

char const* name_of(Doubt doubt) {
  static constexpr std::array<char const*, doubt_count> names = {
      "read",
      "beyond the picture",
      "no bead that stands out",
      "below half a nozzle",
      "at a step or a turn of the screw",
      "touches its neighbour",
      "lies too far aside",
      "an edge leaps out (dust, hair, thread)",
      "no clean edge (dirt, shadow, smear)",
      "glare",
  };
  return names[static_cast<std::size_t>(doubt)];
}

ScanResult scan_picture(std::string const& gcode_path,
                        std::string const& picture_path,
                        ScanOptions const& options,
                        Overlay overlay) {
  bool const rings = options.piece == Piece::rings;
  Trail const trail = rings ? read_trail(gcode_path) : read_any_trail(gcode_path);
  Reduced const reduced = read_reduced(picture_path, reduced_side_px);
  Metric const metric = find_metric(reduced, {options.bar_x_mm, options.bar_y_mm}, picture_path);
  refuse_coarse(metric, picture_path);
  Field const field =
      find_field(reduced, metric, bead_area_mm2(trail, options.nozzle_mm), picture_path);
  Pose const pose =
      rings ? find_pose(field, trail, picture_path) : find_any_pose(field, trail, picture_path);
  ReadBead const bead = read_bead(
      take_profiles(picture_path, metric, pose, trail),
      trail,
      {.nozzle_mm = options.nozzle_mm, .pixel_mm = metric.pixel_mm, .contrast = field.contrast});
  ScanResult result;
  result.widths = bead.widths;
  PictureSize const size = PictureRows::open(picture_path)->size();
  result.picture_width = size.width;
  result.picture_height = size.height;
  state_found(result, metric, pose, bead);
  count_places(result);
  refuse_unread(result, picture_path);
  result.runs = find_runs(trail, result.widths);
  result.blobs = find_blobs(trail, result.widths);
  if (overlay == Overlay::made)
    result.overlay_png = make_overlay(reduced, metric, pose, trail, bead);
  return result;
}

}  // namespace meltlag::scan
