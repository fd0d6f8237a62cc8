// SPDX-License-Identifier: MIT
// A picture of the ring piece on its page → the bead's width along its path.
//
// Two passes over the picture's rows. The first one reduces it: the page's marks give millimetres,
// the rings their middle, the radial steps between them the turn and the face. The second one takes
// colours across the bead every 0.15 mm, in which both edges are found to a part of a pixel, each
// against the colours of bead and background beside it. Memory does not depend on the picture's
// size: below 300 MB for an A4 page at 1200 dpi.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

namespace meltlag::scan {

// Why a place is not believed.
enum class Doubt : std::uint8_t {
  none,
  off_picture,        // beyond the picture's edge
  no_bead,            // nothing there, or nothing that stands out
  thin,               // below half a nozzle
  at_step,            // where the head turned from ring to ring or into another direction, where
                      // only the screw turned, or where another bead lies too near
  touches,            // runs into its neighbour
  aside,              // lies too far from its path
  unlike_neighbours,  // an edge leaps out: dust, a hair, a thread
  unclear,            // no clean edge: dirt, shadow, a smear
  glare,              // the light's reflection
};
inline constexpr std::size_t doubt_count = 10;
[[nodiscard]] char const* name_of(Doubt doubt);

struct Width {
  std::int64_t line = 0;  // of the G-code
  double at_mm = 0;       // from the start of its move
  double way_mm = 0;      // from the first bead
  int ring = 0;           // Piece::any: the straight stretch of path, from 1
  double turn_deg = 0;    // about the rings' middle, anticlockwise from +X of the bed
  bool prints = false;    // the file asks for plastic here
  double width_mm = 0;    // 0: nothing there
  double sd_mm = 0;       // of this one place: noise, and roughness of the edges
  double aside_mm = 0;    // of the bead's middle, to the left of its path
  Doubt doubt = Doubt::none;
};

// Where the screw stood: how far the bead still reaches, and from where it is there again.
struct Run {
  std::int64_t stop_line = 0, start_line = 0;  // of the first moves without and again with plastic
  int ring = 0;
  double tail_mm = 0,
         gap_mm = 0;  // until half the width before; from the restart to half the width after
  bool tail_known = false, gap_known = false;
};

// Plastic beyond the bead's own width where the screw turned with the head at rest.
struct Blob {
  std::int64_t line = 0;  // of the move after it
  int ring = 0;
  double area_mm2 = 0;
};

// What was printed.
enum class Piece : std::uint8_t {
  rings,  // the ring piece
  any,    // any file of one layer whose beads lie apart
};

struct ScanOptions {
  Piece piece = Piece::rings;
  double nozzle_mm = 0.9;
  double bar_x_mm = 150, bar_y_mm = 150;  // what the page's bars measure
};

struct ScanResult {
  std::vector<Width> widths;  // along the path
  std::vector<Run> runs;
  std::vector<Blob> blobs;
  // What was found on the way.
  int picture_width = 0, picture_height = 0;
  double pixel_mm = 0, blur_mm = 0;
  bool coarse_colour = false;  // colours are kept at half the sharpness of brightness (JPEG)
  int marks = 0;
  double marks_scatter_mm = 0;
  bool picture_mirrored = false, face_down = false;
  double turn_deg = 0;                    // of the piece on the page, anticlockwise
  double piece_scale = 1;                 // its rings over those of the file, by the page
  std::array<int, doubt_count> places{};  // with each doubt, of those that the file prints
  double read_share = 0;  // of the path that can be believed, steps between rings left aside
  // A mean width of neighbouring places scatters by this, measured along the path.
  double scatter_mm = 0;
  std::string overlay_png;    // where asked for
  std::string faint_picture;  // of two, where nothing stood out in it; it was not used
};

enum class Overlay : std::uint8_t { none, made };

// Throws Error naming the file at fault: no readable picture, no page, another piece, nothing to
// see; for Piece::any also where the file has several layers, is wider than the page's field,
// hardly has beads 3.5 mm from all others, or looks the same when turned.
[[nodiscard]] ScanResult scan_picture(std::string const& gcode_path,
                                      std::string const& picture_path,
                                      ScanOptions const& options,
                                      Overlay overlay = Overlay::none);

// The same from two pictures of one piece, one on a black page and one on a white one, in any
// order: for clear granules, and for some of the page's colour. Neither turn nor place need be the
// same. What was found on the way is the first one's.
[[nodiscard]] ScanResult scan_two_pictures(std::string const& gcode_path,
                                           std::array<std::string, 2> const& picture_paths,
                                           ScanOptions const& options,
                                           Overlay overlay = Overlay::none);

// A mean of believed places over at most `every_mm` of bead.
struct MeanWidth {
  std::int64_t line = 0;
  double at_mm = 0;  // of its middle, from the start of the line's move
  double width_mm = 0;
};
// Those that the file prints, where at least 60 % of their places are believed, along the path.
[[nodiscard]] std::vector<MeanWidth> mean_widths(ScanResult const& result, double every_mm);

// Rows for `calibrate fit`, each the mean over `every_mm` of bead, with its length and its own ±:
//   trace,ruler_mm,kind,value,lines,at_mm,length_mm,sd_mm,turn_deg,note
// Trace is the ring, ruler_mm the way along it. A row is written where at least 60 % of its places
// are believed.
[[nodiscard]] std::string write_scan_sheet(ScanResult const& result, double every_mm);

}  // namespace meltlag::scan
