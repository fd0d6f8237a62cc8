// SPDX-License-Identifier: MIT
// A piece that shows the hardware as it is: one layer of 24 beads, each with a start and a stop as
// a slicer writes them, no lag law in between. Printed alike on every build, it shows how builds
// differ.
//
// Before each bead lies a lead-in of the same flow, so that the start follows a stop of known
// history. A comb on the bed has one tooth beside each start: its tip is where the bead should
// begin. The form for a picture (`calibrate hardware --scan`) has no comb: the picture is laid over
// the file's own beads, which lie further apart.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::testpiece {

struct HardwareOptions {
  // Bed, bead, medium and fast speed, start and end code, seed; its layers, slow speed and turns
  // are not used.
  PieceOptions piece;
  double retract_mm = 1;                    // of E, at each stop; 0: none
  std::optional<double> retract_mm_s = {};  // of E; else 25, or less where the limits ask for it
  bool for_picture = false;
};

// From its start to its stop, along +X.
struct HardwareBead {
  int stop = 0;  // 1 … 24, from the front
  double speed_mm_s = 0, flow_mm3_s = 0;
  Vec3 from = {}, to = {};
  std::int64_t line = 0;  // of the G-code
};

struct HardwarePiece {
  std::string gcode;
  std::vector<HardwareBead> beads;  // in the order printed
  double bead_width_mm = 0, layer_height_mm = 0;
  double lead_in_mm = 0;                    // length of each lead-in
  double travel_mm = 0;                     // head's way from its stop to the start that counts
  double retract_mm = 0, retract_mm_s = 0;  // of E, as written
  Vec3 low_mm, high_mm;                     // what the piece covers on the bed, purge left out
  double purge_mm3 = 0, wanted_mm3 = 0;
  double planned_s = 0;
  std::vector<std::string> remarks;  // what was adjusted, and why
};

// Throws Error like make_test_piece(), and where the retract is beyond what E or the screw can do.
[[nodiscard]] HardwarePiece make_hardware_piece(HardwareOptions const& options);

// How the comments begin that stand before the other beads of the form for a picture: the upright
// one across all rows, and a lead-in.
inline constexpr std::string_view hardware_upright = "upright", hardware_lead_in = "lead-in";
// What the comment before a bead of the form for a picture says: "bead 5: 8.00 mm3/s".
[[nodiscard]] std::optional<HardwareBead> read_hardware_comment(std::string_view comment);

// To fill in: stop, flow_mm3_s, blob_mm, bead_mm, gap_mm, note. The note says which bead it is and
// how high the layer.
[[nodiscard]] std::string write_hardware_sheet(HardwarePiece const& piece);

}  // namespace meltlag::testpiece
