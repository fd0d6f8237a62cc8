// SPDX-License-Identifier: MIT
// The test piece: a fence of single-bead walls whose every layer repeats the same speeds and screw
// actions at the same places, so that calipers rest on many layers that had the same history.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/vec.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::testpiece {

struct PieceOptions {
  double slicer_diameter_mm;  // filament diameter that E is computed with
  motion::Limits limits;      // checked against, and used to compute the time
  std::optional<double> max_flow_mm3_s = {};
  std::optional<double> e_mm_per_turn = {};  // without it no bead for the screw's turns is made
  double min_speed_mm_s = 0;

  double bed_x_mm = 200, bed_y_mm = 200;  // the piece is put into its middle
  double margin_mm = 5;                   // kept free at the bed's edges
  double layer_height_mm = 0.3;
  double bead_width_mm = 1.0;
  double slow_mm_s = 0, medium_mm_s = 0, fast_mm_s = 0;  // 0: from the flows 2, 4 and 8 mm³/s
  double travel_mm_s = 100;
  int layers = 20;
  std::uint32_t seed = 1;
  double nozzle_c = 0, bed_c = 0;  // used by the plain start alone
  double largest_run_on_mm3 = 15;  // plausible at 5 mm³/s; sizes purge and lead-in
  double largest_lag_s = 3;        // of that run-on, at 5 mm³/s and a flow index of 1

  std::optional<std::string> start_code = {}, end_code = {};  // else the plain start and end
};

enum class Group : std::uint8_t { small_step, medium_step, large_step, run_out, short_retracts };
[[nodiscard]] char const* name_of(Group group);  // "small step", …

// A straight stretch of a wall that one line prints in each layer.
struct Section {
  double from_mm = 0, to_mm = 0;  // on the ruler; from > to where the head goes backward
  double speed_mm_s = 0;
  double e_mm_per_mm = 0;           // 0: the screw stands, the head goes on
  std::string about;                // "fast", "after the step up", "screw stands"
  std::vector<std::int64_t> lines;  // of the G-code, one for each layer, from the first one up
};

// One leg of the fence.
struct Wall {
  int trace = 0;  // the number that stands beside it
  Group group = Group::small_step;
  int copy = 0;     // 1 start, 2 middle, 3 end of the piece
  double y_mm = 0;  // on the bed
  std::vector<Section> sections;
};

// The bead of constant speed whose every layer is a whole number of the screw's turns, so that what
// pulses with the turn stands at the same places in all layers.
struct TurnBead {
  int trace = 0;  // of the back side, sections[0]; the front side, sections[1], is the next one
  double turns_per_layer = 0, turns = 0;
  std::vector<Section> sections;  // ruler places along X; negative to the left of its zero
  std::vector<Vec3> corners;      // of its path, on the bed
};

struct TestPiece {
  std::string gcode;
  std::vector<Wall> walls;  // in the order printed
  std::optional<TurnBead> turn_bead;
  std::vector<Vec3> loop;      // corners of the fence's path in one layer, on the bed
  double ruler_zero_x_mm = 0;  // bed X of the ruler's zero
  double ruler_y_mm = 0;       // bed Y of its bead; the marks point to the front
  double ruler_length_mm = 0;
  Vec3 low_mm, high_mm;    // what the piece covers on the bed
  double purge_mm3 = 0;    // before line one
  double lead_in_mm3 = 0;  // of the fence, before the first wall that counts, in any layer
  double wanted_mm3 = 0;   // of the whole piece without purge
  double bead_width_mm = 0;
  double section_mm2 = 0;  // of the nominal bead: w·h − (1 − π/4)·h²
  double planned_s = 0;
  std::vector<std::string> remarks;  // what was adjusted or left out, and why
};

// Throws Error where the piece does not fit the bed, where a speed, flow or height breaks a limit,
// or where a temperature for the plain start is missing.
[[nodiscard]] TestPiece make_test_piece(PieceOptions const& options);

}  // namespace meltlag::testpiece
