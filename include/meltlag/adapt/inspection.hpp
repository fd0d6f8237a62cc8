// SPDX-License-Identifier: MIT
// What a file holds: units and modes, bounds, times, layers, codes, flow.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/adapt/bead_widths.hpp"
#include "meltlag/base/diagnostic.hpp"
#include "meltlag/base/vec.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::adapt {

struct InspectOptions {
  motion::Limits limits;
  double slicer_diameter_mm;
  double delivered_factor = 1;
  bool g91_covers_e = true;
  std::optional<double> max_flow_mm3_s = {};
};

// What one code's lines mean here.
enum class Handling : std::uint8_t {
  modelled,       // its effect on path, flow or time is computed
  passes_through  // stays as it is; nothing is computed from it
};
struct CodeCount {
  std::string code;  // "G1", "T", "other"
  std::int64_t lines = 0;
  Handling handling = Handling::passes_through;
};

struct Bounds3 {
  Vec3 least_mm{std::numeric_limits<double>::infinity(),
                std::numeric_limits<double>::infinity(),
                std::numeric_limits<double>::infinity()};
  Vec3 most_mm = -1.0 * least_mm;
  void take(Vec3 at_mm);
  [[nodiscard]] bool empty() const { return !(least_mm.x <= most_mm.x); }
};

struct Inspection {
  std::int64_t lines = 0, moves = 0, arcs = 0;
  std::int64_t prints = 0, travels = 0, e_only = 0;
  bool inches = false, millimetres = false;         // seen in moves
  bool absolute_e = false, relative_e = false;      // seen in moves
  bool absolute_xyz = false, relative_xyz = false;  // seen in moves
  bool e_mode_never_stated = false;
  bool adapted_already = false;
  bool firmware_side_lag = false;  // a code that sets such handling was met
  Bounds3 beads, head;             // machine coordinates: of the part's beads, of all moves
  std::vector<CodeCount> codes;    // by code

  double planned_s = 0, printing_s = 0, print_length_mm = 0, travel_length_mm = 0;
  std::int64_t layers = 0;
  double first_layer_mm = 0, layer_mm = 0;  // heights: of the first, and the commonest; 0: unknown
  double wanted_mm3 = 0, purged_mm3 = 0;    // by beads; besides, by E alone
  double purge_line_mm3 = 0;                // of the beads, on a line before the part
  WidthFacts widths, upper_widths;          // of all layers; above the first
  bool volumetric_said = false;             // by an M200

  double peak_flow_mm3_s = 0, mean_flow_mm3_s = 0;  // while printing, as the screw delivers it
  std::int64_t peak_line = 0;
  double above_max_flow_s = 0;                     // printing time above max_flow_mm3_s
  double longest_standstill_s = 0;                 // without forward feed; known waits only
  std::int64_t standstill_line = 0;                // where it ends
  bool heated = false, purged_after_heat = false;  // before the part, as far as can be told
  double hottest_c = std::numeric_limits<double>::quiet_NaN();
};

// Streams the file. Throws Error for what cannot be read.
[[nodiscard]] Inspection inspect(std::string const& path,
                                 InspectOptions const& options,
                                 Notices& notices);

}  // namespace meltlag::adapt
