// SPDX-License-Identifier: MIT
// Where the piece lies on the page, how it is turned, which face is up: from its own rings and the
// radial steps between them.
#pragma once

#include <string>
#include <vector>

#include "metric.hpp"
#include "trail.hpp"

namespace meltlag::scan {

struct Pose {
  Place2 middle;  // of the rings, on the page
  double turn_rad = 0;
  bool face_down = false;
  double steps_seen = 0;  // share of the radial steps' places where plastic is seen
  double scale = 1;       // of the piece against the page

  // Of a place from the rings' middle (y up), and of a direction.
  [[nodiscard]] Place2 on_page(Place2 piece) const { return middle + turned(scale * piece); }
  [[nodiscard]] Place2 turned(Place2 piece) const;
};

// The disc that rings lie on, as a square of the page in steps of `step_mm`: how unlike its
// background each place is, 1 where it is as unlike as beads are.
struct Field {
  static constexpr double step_mm = 0.2, half_mm = 93;
  int side = 0;
  std::vector<float> plastic;
  double contrast = 0;      // levels of colour between beads and background
  double least_seen = 0.5;  // of the steps between rings, of a file's beads: less is another piece

  [[nodiscard]] double at(Place2 page) const;  // between places; 0 outside
};
// `bead_mm2`: what the beads cover, about. `shadow_share`: so much darker than its background a
// place may be for a shadow's sake; it is taken off.
[[nodiscard]] Field find_field(Reduced const& reduced,
                               Metric const& metric,
                               double bead_mm2,
                               double shadow_share = 0);

// Throws Error where nothing stands out from the background.
void require_contrast(Field const& field, std::string const& path);
[[nodiscard]] bool has_contrast(Field const& field);

// Throws Error where the picture does not show this piece, or not clearly.
[[nodiscard]] Pose find_pose(Field const& field, Trail const& trail, std::string const& path);

// The same of a file of any shape (read_any_trail()): `steps_seen` is the share of its beads where
// plastic is seen. Throws Error also where it lies as well in another way.
[[nodiscard]] Pose find_any_pose(Field const& field, Trail const& trail, std::string const& path);

}  // namespace meltlag::scan
