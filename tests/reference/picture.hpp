// SPDX-License-Identifier: MIT
/// Pictures of a printed ring piece on its page, by optics of their own: what a flatbed scanner or
/// a camera would see of a print that is known here in every detail and hidden from whoever
/// measures it. Shares nothing with the product but the numbers that stand on the page.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "measure.hpp"

namespace meltlag_reference {

using Colour = std::array<double, 3>;  ///< red, green, blue, 0 ... 255

// ---- the print -----------------------------------------------------------------------------

/// One place of the bead. Edges are distances from the head's way, to the left and to the right of
/// it.
struct BeadPlace {
  double way_mm = 0, x_mm = 0, y_mm = 0;  ///< on the bed
  double nx = 0, ny = 0;                  ///< unit vector to the left
  double left_mm = 0, right_mm = 0;
  double height_mm = 0;
  double shift_mm = 0;  ///< of both edges to the left: a bead that came loose
  double blob_mm = 0;   ///< radius of what left here while the head stood; 0: nothing did
  bool prints = false;  ///< the file asks for plastic here
  bool there = true;    ///< false: came off and was lost
  std::size_t line = 0;
  double width_mm() const { return there ? left_mm + right_mm : 0; }
};

struct BeadOptions {
  double height_mm = 0.3;
  double uneven_mm = 0;                   ///< of the bed: greatest departure, a slope and a bow
  double roughness_mm = 0.02;             ///< sd of each edge, over about 0.5 mm
  double wander_share = 0, wander_s = 3;  ///< of the flow, a slow random walk with this time
  double step_mm = 0.1;
  std::uint32_t seed = 1;
  double lost_from_mm = 0, lost_to_mm = 0;                     ///< a stretch that came off
  double loose_from_mm = 0, loose_to_mm = 0, loose_by_mm = 0;  ///< and one that lies aside
};

/// Every place of the layer, from the first to the last head move that prints.
std::vector<BeadPlace> lay_bead(const HeadMotion& motion,
                                const Print& print,
                                const BeadOptions& options);

// ---- the picture ---------------------------------------------------------------------------

struct Fault {
  double x_mm = 0, y_mm = 0, radius_mm = 0;  ///< on the bed
};

struct PictureOptions {
  std::string file;  ///< .png, .jpg or .tif
  double dpi = 600;
  bool grey = false;
  double bed_x_mm = 200, bed_y_mm = 200;                      ///< the piece's middle is the bed's
  double piece_turn_deg = 0, piece_x_mm = 0, piece_y_mm = 0;  ///< on the page
  bool mirrored = false;                                      ///< the piece lies face down
  double page_turn_deg = 0;
  double page_scale_x = 1, page_scale_y = 1;  ///< of the printer that made the page
  double scan_scale_x = 1, scan_scale_y = 1;  ///< of the scanner, of page and piece alike
  double skew_deg = 0, stretch_mm = 0;        ///< of the scanner
  double tilt_deg = 0, radial = 0;  ///< a camera's; radial: share of the radius at the corner
  double blur_px = 0.6;             ///< sd
  double noise = 2;                 ///< sd, levels of 255
  double gradient = 0.15;           ///< of the brightness, from edge to edge +-
  double shadow = 0.35;             ///< depth beside a bead, away from the lamp
  int jpeg_quality = 85;
  Colour background{20, 20, 20};
  std::vector<Colour> granules{{225, 60, 40}, {235, 180, 60}};
  double clear = 0;  ///< share of what lies below the plastic that shines through it
  int dust = 0, hairs = 0;
  double glare = 0;  ///< greatest share of white added on tops, in one patch
  double crop = 1;   ///< share of the height that the picture shows
  std::uint32_t seed = 1;
};

/// Writes the file and tells where faults were planted. Throws std::runtime_error where it cannot.
std::vector<Fault> take_picture(const std::vector<BeadPlace>& bead, const PictureOptions& options);

}  // namespace meltlag_reference
