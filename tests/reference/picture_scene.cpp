// SPDX-License-Identifier: MIT
#include "picture_scene.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag_reference {
namespace {

// Asked for each pixel: what hypot() does for very large and very small numbers is not needed.
double length(double x, double y) { return std::sqrt(x * x + y * y); }

constexpr double pi = 3.14159265358979323846;
constexpr int grid = 320;  // mm, both ways, for the bed and the page
constexpr double field_mm = 91.5, mark_mm = 2.5, hole_mm = 0.55, hole_out_mm = 1.2;
constexpr double frame_x = 98, frame_y = 128;
constexpr double ambient = 0.6, lamp_up = 0.87, lamp_aside = 0.5;  // the lamp stands 30 deg aside
constexpr Colour white{245, 245, 243}, ink{25, 25, 28};

double clamp01(double v) { return std::clamp(v, 0.0, 1.0); }

Colour mix(const Colour& a, const Colour& b, double part) {
  return {a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1]), a[2] + part * (b[2] - a[2])};
}

std::size_t cell_of(double x, double y) {
  const int i = std::clamp(static_cast<int>(x + grid / 2), 0, grid - 1);
  const int k = std::clamp(static_cast<int>(y + grid / 2), 0, grid - 1);
  return static_cast<std::size_t>(k) * grid + static_cast<std::size_t>(i);
}

double cover(double inside_mm, double pixel_mm) { return clamp01(0.5 + inside_mm / pixel_mm); }

struct MarkAt {
  double x, y;
  int holes;
};

std::vector<MarkAt> all_marks() {
  std::vector<MarkAt> out = {{-frame_x, -frame_y, 1},
                             {frame_x, -frame_y, 2},
                             {frame_x, frame_y, 3},
                             {-frame_x, frame_y, 4}};
  for (int i = 1; i <= 4; ++i)
    for (double y : {-frame_y, frame_y}) out.push_back({frame_x * (0.4 * i - 1), y, 0});
  for (int i = 1; i <= 5; ++i)
    for (double x : {-frame_x, frame_x}) out.push_back({x, frame_y * (i / 3.0 - 1), 0});
  return out;
}

}  // namespace

Scene::Scene(const std::vector<BeadPlace>& bead, const PictureOptions& options)
    : bead_(bead), options_(options) {
  cos_ = std::cos(options.piece_turn_deg * pi / 180);
  sin_ = std::sin(options.piece_turn_deg * pi / 180);
  index_bead();
  std::mt19937 random(options.seed * 7919 + 3);
  std::uniform_int_distribution<int> which(0, static_cast<int>(options.granules.size()) - 1);
  std::uniform_int_distribution<int> long_for(60, 500);
  int left = 0;
  std::uint8_t now = 0;
  for (std::size_t i = 0; i < bead.size(); ++i, --left) {
    if (left <= 0) {
      left = long_for(random);
      now = static_cast<std::uint8_t>(which(random));
    }
    granule_.push_back(now);
  }
  make_dust();
}

// Bed: y up, its middle; page: y down. A piece face down is seen as in a mirror.
Flat Scene::to_bed(Flat page) const {
  const double x = page.x - options_.piece_x_mm, y = -(page.y - options_.piece_y_mm);
  const Flat turned{cos_ * x + sin_ * y, -sin_ * x + cos_ * y};
  return {options_.mirrored ? -turned.x : turned.x, turned.y};
}
Flat Scene::to_page(Flat bed) const {
  const double x = options_.mirrored ? -bed.x : bed.x, y = bed.y;
  return {cos_ * x - sin_ * y + options_.piece_x_mm, -(sin_ * x + cos_ * y) + options_.piece_y_mm};
}

void Scene::index_bead() {
  cells_.resize(static_cast<std::size_t>(grid) * grid);
  for (std::size_t i = 0; i < bead_.size(); ++i) {
    const BeadPlace& place = bead_[i];
    const double x = place.x_mm - options_.bed_x_mm / 2, y = place.y_mm - options_.bed_y_mm / 2;
    const double reach = std::max(place.left_mm, place.right_mm) + std::abs(place.shift_mm) + 1;
    for (const double along : {-0.1, 0.1})
      for (double a = -reach; a <= reach; a += 0.2) {
        auto& cell = cells_[cell_of(x + a * place.nx + along * place.ny,
                                    y + a * place.ny - along * place.nx)];
        if (cell.empty() || cell.back() != i) cell.push_back(static_cast<std::uint32_t>(i));
      }
    index_blob(i);
  }
}

void Scene::index_blob(std::size_t i) {
  const BeadPlace& place = bead_[i];
  const int reach = place.blob_mm > 0 ? static_cast<int>(place.blob_mm) + 2 : -1;
  for (int dx = -reach; dx <= reach; ++dx)
    for (int dy = -reach; dy <= reach; ++dy) {
      auto& cell = cells_[cell_of(place.x_mm - options_.bed_x_mm / 2 + dx,
                                  place.y_mm - options_.bed_y_mm / 2 + dy)];
      if (cell.empty() || cell.back() != i) cell.push_back(static_cast<std::uint32_t>(i));
    }
}

Scene::Seen Scene::nearest(Flat bed) const {
  Seen best;
  for (const std::uint32_t i : cells_[cell_of(bed.x, bed.y)]) {
    const BeadPlace& place = bead_[i];
    if (!place.there) continue;
    const double x = bed.x - (place.x_mm - options_.bed_x_mm / 2);
    const double y = bed.y - (place.y_mm - options_.bed_y_mm / 2);
    const double along = x * place.ny - y * place.nx;
    const double in_blob = place.blob_mm - length(x, y);
    if (place.blob_mm > 0 && in_blob > best.inside_mm) {
      const double to_left = x * place.nx + y * place.ny;
      best = {&place, i, to_left, in_blob, to_left > 0};
    }
    if (place.left_mm + place.right_mm <= 0) continue;
    if (std::abs(along) > 0.09) continue;  // places are 0.1 mm apart, on curves a little less
    const double aside = x * place.nx + y * place.ny - place.shift_mm;
    // Between two places edges are taken as going on in a line.
    const std::size_t other =
        along > 0 ? std::min<std::size_t>(i + 1, bead_.size() - 1) : (i > 0 ? i - 1 : 0);
    const double part = std::min(1.0, std::abs(along) / 0.1);
    const BeadPlace& next = bead_[other];
    const bool same = next.there && std::abs(next.way_mm - place.way_mm) < 0.3;
    const double left = place.left_mm + (same ? part * (next.left_mm - place.left_mm) : 0);
    const double right = place.right_mm + (same ? part * (next.right_mm - place.right_mm) : 0);
    const double inside = std::min(left - aside, right + aside);
    if (inside > best.inside_mm) best = {&place, i, aside, inside, left - aside < right + aside};
  }
  return best;
}

void Scene::make_dust() {
  std::mt19937 random(options_.seed * 104729 + 11);
  std::uniform_real_distribution<double> one(0, 1);
  const auto anywhere = [&] {
    const double r = 88 * std::sqrt(one(random)), a = 2 * pi * one(random);
    return Flat{r * std::cos(a), r * std::sin(a)};
  };
  const auto colour = [&] {
    return one(random) < 0.5 ? Colour{35, 33, 30} : Colour{205, 205, 200};
  };
  for (int i = 0; i < options_.dust; ++i)
    specks_.push_back({anywhere(), 0.05 + 0.2 * one(random), colour()});
  for (int i = 0; i < options_.hairs; ++i) {
    Flat at = anywhere();
    double way = 2 * pi * one(random);
    const double bend = 0.06 * (one(random) - 0.5);
    const Colour of_hair = colour();
    for (int k = 0; k < 200; ++k) {  // 10 mm of beads 0.05 mm apart
      specks_.push_back({at, 0.045, of_hair});
      at = {at.x + 0.05 * std::cos(way), at.y + 0.05 * std::sin(way)};
      way += bend;
    }
  }
  speck_cells_.resize(static_cast<std::size_t>(grid) * grid);
  for (std::size_t i = 0; i < specks_.size(); ++i)
    for (int dx = -1; dx <= 1; ++dx)
      for (int dy = -1; dy <= 1; ++dy) {
        auto& cell = speck_cells_[cell_of(specks_[i].at.x + 0.5 * dx, specks_[i].at.y + 0.5 * dy)];
        if (cell.empty() || cell.back() != i) cell.push_back(static_cast<std::uint32_t>(i));
      }
}

std::vector<Fault> Scene::faults() const {
  std::vector<Fault> out;
  for (const Speck& speck : specks_) {
    const Flat bed = to_bed(speck.at);
    out.push_back({bed.x + options_.bed_x_mm / 2, bed.y + options_.bed_y_mm / 2, speck.radius});
  }
  return out;
}

void Scene::add_specks(Flat page, double pixel_mm, Colour& colour) const {
  for (const std::uint32_t i : speck_cells_[cell_of(page.x, page.y)]) {
    const Speck& speck = specks_[i];
    const double inside = speck.radius - length(page.x - speck.at.x, page.y - speck.at.y);
    if (inside > -pixel_mm) colour = mix(colour, speck.colour, cover(inside, pixel_mm));
  }
}

// Of the angle on the page between the way out of the bead's nearer edge and the lamp, which stands
// towards the page's top.
double Scene::lamp_cosine(const Seen& seen) const {
  const double side = seen.left ? 1 : -1;
  const Flat out{side * seen.place->nx, side * seen.place->ny};
  const Flat zero = to_page({0, 0}), tip = to_page(out);
  return -(tip.y - zero.y);
}

// A flat top with quarter rounds at its sides, dull.
Colour Scene::plastic(const Seen& seen, Flat page, const Colour& below) const {
  const double round = seen.place->height_mm / 2;
  const double tilt = clamp01(1 - seen.inside_mm / round);  // sine of the surface's lean
  const double up = std::sqrt(1 - tilt * tilt);
  const double light = std::max(0.0, lamp_up * up + lamp_aside * tilt * lamp_cosine(seen));
  const double shade = (ambient + (1 - ambient) * light) / (ambient + (1 - ambient) * lamp_up);
  const std::size_t count = options_.granules.size();
  Colour colour = options_.granules[granule_[seen.index]];
  // A streak of the next granule on one side, here and there.
  const double place = static_cast<double>(seen.index);
  if (count > 1 && std::sin(place / 170) > 0.5)
    colour = mix(colour,
                 options_.granules[(granule_[seen.index] + 1) % count],
                 clamp01(0.5 + seen.to_left_mm / 0.2));
  const double mottle = 1 + 0.04 * std::sin(place / 7.0) * std::cos(9 * seen.to_left_mm);
  for (double& channel : colour) channel *= mottle;
  colour = mix(colour, below, options_.clear);
  for (double& channel : colour) channel = std::min(255.0, channel * shade);
  const double far = length(page.x - 30, page.y + 20) / 18;
  if (options_.glare > 0 && far < 1)
    colour = mix(colour, {255, 255, 255}, options_.glare * up * (1 - far * far));
  return colour;
}

double Scene::shadow(const Seen& seen) const {
  if (seen.place == nullptr || seen.inside_mm > 0) return 1;
  const double length = seen.place->height_mm * lamp_aside / lamp_up;
  const double away = clamp01(-lamp_cosine(seen));
  return 1 - options_.shadow * away * clamp01(1 + seen.inside_mm / std::max(0.05, length * away));
}

double Scene::mark_cover(Flat page, double pixel_mm) const {
  if (std::abs(page.x) < frame_x - 4 && std::abs(page.y) < frame_y - 4) return 0;
  static const std::vector<MarkAt> marks = all_marks();
  for (const MarkAt& mark : marks) {
    const double x = page.x - mark.x, y = page.y - mark.y;
    if (std::abs(x) > 3 || std::abs(y) > 3) continue;
    double black = cover(mark_mm - length(x, y), pixel_mm);
    for (int i = 0; i < mark.holes; ++i) {
      const double turn = 2 * pi * i / mark.holes, out = mark.holes > 1 ? hole_out_mm : 0;
      black -=
          cover(hole_mm - length(x - out * std::cos(turn), y - out * std::sin(turn)), pixel_mm);
    }
    return clamp01(black);
  }
  return 0;
}

Colour Scene::paper(Flat page, double pixel_mm) const {
  Colour colour = white;
  const double radius = length(page.x, page.y);
  colour = mix(colour, options_.background, cover(field_mm - radius, pixel_mm));
  // Lines of words, as short strokes; the two bars.
  const bool rows = (page.y > 95 && page.y < 123) || (page.y < -103 && page.y > -121);
  if (rows && std::abs(page.x) < 80 && std::fmod(std::abs(page.y), 3.4) < 2 &&
      std::fmod(std::abs(page.x) + 0.6 * std::floor(std::abs(page.y) / 3.4), 1.7) < 0.4)
    colour = ink;
  if (std::abs(page.y + 100) < 0.125 && std::abs(page.x) < 75) colour = ink;
  if (std::abs(page.x + 93.6) < 0.125 && std::abs(page.y) < 75) colour = ink;
  return mix(colour, ink, mark_cover(page, pixel_mm));
}

Colour Scene::look(Flat page, double pixel_mm) const {
  Colour colour = paper({page.x / options_.page_scale_x, page.y / options_.page_scale_y}, pixel_mm);
  if (length(page.x, page.y) < field_mm + 6) {
    const Seen seen = nearest(to_bed(page));
    const double dark = shadow(seen);
    const Colour below = colour;
    for (double& channel : colour) channel *= dark;
    if (seen.place != nullptr && seen.inside_mm > -pixel_mm)
      colour = mix(colour, plastic(seen, page, below), cover(seen.inside_mm, pixel_mm));
  }
  add_specks(page, pixel_mm, colour);
  return colour;
}

}  // namespace meltlag_reference
