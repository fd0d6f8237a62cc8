// SPDX-License-Identifier: MIT
#include "meltlag/scan/widths.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "along.hpp"
#include "meltlag/base/error.hpp"
#include "overlay.hpp"
#include "read_picture.hpp"
#include "runs.hpp"

namespace meltlag::scan {
namespace {

constexpr double least_read = 0.3;  // of the path

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

ScanResult result_of(ReadPicture const& picture,
                     Trail const& trail,
                     ScanOptions const& options,
                     Overlay overlay) {
  ReadBead const bead = read_bead(picture, trail, options);
  ScanResult result;
  result.widths = bead.widths;
  result.faint_picture = picture.faint_path;
  PictureSize const size = PictureRows::open(picture.path)->size();
  result.picture_width = size.width;
  result.picture_height = size.height;
  result.coarse_colour = picture.profiles.coarse_colour;
  state_found(result, picture.metric, picture.pose, bead);
  count_places(result);
  refuse_unread(result, picture.path);
  result.runs = find_runs(trail, result.widths);
  result.blobs = find_blobs(trail, result.widths);
  if (overlay == Overlay::made)
    result.overlay_png = make_overlay(picture.reduced, picture.metric, picture.pose, trail, bead);
  return result;
}

Trail trail_of(std::string const& gcode_path, ScanOptions const& options) {
  return options.piece == Piece::rings ? read_trail(gcode_path) : read_any_trail(gcode_path);
}

FindPose pose_finder(ScanOptions const& options) {
  return options.piece == Piece::rings ? find_pose : find_any_pose;
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
  Trail const trail = trail_of(gcode_path, options);
  return result_of(
      read_picture(picture_path, trail, pose_finder(options), options), trail, options, overlay);
}

ScanResult scan_two_pictures(std::string const& gcode_path,
                             std::array<std::string, 2> const& picture_paths,
                             ScanOptions const& options,
                             Overlay overlay) {
  Trail const trail = trail_of(gcode_path, options);
  return result_of(read_two_pictures(picture_paths, trail, pose_finder(options), options),
                   trail,
                   options,
                   overlay);
}

}  // namespace meltlag::scan
