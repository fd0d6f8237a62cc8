// SPDX-License-Identifier: MIT
#include "read_picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "along.hpp"
#include "meltlag/base/error.hpp"

namespace meltlag::scan {
namespace {

constexpr int reduced_side_px = 2000;
constexpr double coarsest_pixel_mm = 0.13;  // 195 dpi
constexpr double least_seen_of_two = 0.2;   // of the piece on each: the rest is on the other one
constexpr double least_change = 60;         // levels, from page to page

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

struct Page {
  ReadPicture picture;  // its page and how that lies
  Field field;
};

Page find_page(std::string const& path,
               Trail const& trail,
               ScanOptions const& options,
               double shadow_share) {
  Page out;
  ReadPicture& picture = out.picture;
  picture.path = path;
  picture.reduced = read_reduced(path, reduced_side_px);
  picture.metric = find_metric(picture.reduced, {options.bar_x_mm, options.bar_y_mm}, path);
  refuse_coarse(picture.metric, path);
  double const bead_mm2 = bead_area_mm2(trail, options.nozzle_mm);
  out.field = find_field(picture.reduced, picture.metric, bead_mm2, shadow_share);
  picture.contrast = out.field.contrast;
  return out;
}

void take_colours(ReadPicture& picture, Trail const& trail, double step_mm) {
  picture.profiles = take_profiles(picture.path, picture.metric, picture.pose, trail, step_mm);
}

// Brightness at the profiles' ends, beside the beads: the page's.
double page_brightness(Profiles const& profiles) {
  std::vector<double> ends;
  for (std::size_t i = 0; i < profiles.in_picture.size(); i += 20) {
    if (!profiles.in_picture[i]) continue;
    std::uint8_t const* const rgb = profiles.of(i, 0);
    ends.push_back((rgb[0] + rgb[1] + rgb[2]) / 3.0);
  }
  return ends.empty() ? 0 : median_of(ends);
}

// Colours of both at each place.
Profiles side_by_side(Profiles const& one, Profiles const& other) {
  Profiles out = one;
  out.channels = one.channels + other.channels;
  out.levels.clear();
  for (std::size_t i = 0; i < one.levels.size(); i += 3) {
    out.levels.insert(out.levels.end(), &one.levels[i], &one.levels[i] + 3);
    out.levels.insert(out.levels.end(), &other.levels[i], &other.levels[i] + 3);
  }
  for (std::size_t i = 0; i < one.in_picture.size(); ++i)
    out.in_picture[i] = one.in_picture[i] && other.in_picture[i];
  out.coarse_colour = one.coarse_colour || other.coarse_colour;
  return out;
}

}  // namespace

ReadPicture read_picture(std::string const& path,
                         Trail const& trail,
                         FindPose find,
                         ScanOptions const& options) {
  auto [picture, field] = find_page(path, trail, options, 0);
  require_contrast(field, path);
  picture.pose = find(field, trail, path);
  take_colours(picture, trail, profile_step_mm(picture.metric.pixel_mm));
  return std::move(picture);
}

ReadPicture read_two_pictures(std::array<std::string, 2> const& paths,
                              Trail const& trail,
                              FindPose find,
                              ScanOptions const& options) {
  std::array<Page, 2> pages{find_page(paths[0], trail, options, usual_shadow),
                            find_page(paths[1], trail, options, usual_shadow)};
  for (std::size_t i = 0; i < 2; ++i) {
    pages[i].field.least_seen = least_seen_of_two;
    if (has_contrast(pages[i].field)) continue;
    ReadPicture out = read_picture(paths[1 - i], trail, find, options);
    out.faint_path = paths[i];
    return out;
  }
  double pixel_mm = 0;
  for (auto& [picture, field] : pages) {
    picture.pose = find(field, trail, picture.path);
    pixel_mm = std::max(pixel_mm, picture.metric.pixel_mm);
  }
  for (auto& [picture, field] : pages) take_colours(picture, trail, profile_step_mm(pixel_mm));
  ReadPicture &first = pages[0].picture, &second = pages[1].picture;
  double const brighter = page_brightness(first.profiles) - page_brightness(second.profiles);
  if (std::abs(brighter) < least_change)
    throw Error(fmt::format("the two pictures' pages differ by {:.0f} levels of 255 only",
                            std::abs(brighter)),
                {.file = paths[1]},
                "Take one on a page with --background black and one with --background white.");
  first.profiles = side_by_side(first.profiles, second.profiles);
  first.contrast = std::hypot(first.contrast, second.contrast);
  return std::move(first);
}

ReadBead read_bead(ReadPicture const& picture, Trail const& trail, ScanOptions const& options) {
  return read_bead(picture.profiles,
                   trail,
                   {.nozzle_mm = options.nozzle_mm,
                    .pixel_mm = picture.metric.pixel_mm,
                    .contrast = picture.contrast});
}

}  // namespace meltlag::scan
