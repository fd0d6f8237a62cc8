// SPDX-License-Identifier: MIT
// The ring piece: one layer of concentric single beads that a scanner or a camera reads along its
// whole path (`calibrate scan`), instead of calipers at some places.
//
// Rings 4 mm apart are printed from the outermost inward, anticlockwise, with one E per mm but
// where stated. A ring is not closed: an arc without bead lies between its end and its beginning,
// of another length on each ring. A radial step leads from its end to the next ring. Angles of the
// steps tell how the piece lies on a picture, and which face is up, whatever the lag did to the
// beads.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::testpiece {

inline constexpr double ring_pitch_mm = 4;
inline constexpr double largest_ring_mm = 88, smallest_ring_mm = 12;  // radii
inline constexpr double longest_ring_print_s = 480;

// A stretch of one speed and one E per mm, from one change to the next, over one ring or several.
struct RingStretch {
  std::string group;              // "large step", "steady", "burst", "lead-in", "purge", …
  int copy = 0;                   // 1 … 3; 0 outside of groups
  std::string about;              // "after the step up"
  double from_mm = 0, to_mm = 0;  // along the beads, from the beginning of the outermost ring
  double speed_mm_s = 0, e_mm_per_mm = 0;
  std::vector<std::int64_t> lines;  // of the G-code
};

struct RingPiece {
  std::string gcode;
  std::vector<RingStretch> stretches;  // in the order printed
  std::vector<double> radii_mm;        // from the outermost in
  Vec3 centre_mm;                      // on the bed
  double length_mm = 0;                // of the beads
  double purge_mm3 = 0, lead_in_mm3 = 0;
  double wanted_mm3 = 0;  // without purge
  double bead_width_mm = 0, section_mm2 = 0;
  double planned_s = 0;
  int copies = 0;                    // of the groups
  double wider = 1;                  // its ± of the run-on over that of a whole piece, about
  std::vector<std::string> remarks;  // what was adjusted or left out, and what it costs
};

// `options.layers` and `options.largest_lag_s` of the lead-in hold as for the fence, the number of
// layers is 1. Throws Error where not even one copy of the groups fits the bed or the time, and as
// make_test_piece() does.
[[nodiscard]] RingPiece make_ring_piece(PieceOptions const& options);

}  // namespace meltlag::testpiece
