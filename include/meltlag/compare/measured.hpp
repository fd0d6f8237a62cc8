// SPDX-License-Identifier: MIT
// What was measured on a print: rows by G-code line or by time.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "meltlag/base/sheet.hpp"

namespace meltlag::compare {

enum class MeasuredKind : std::uint8_t {
  width,      // mm, calipers across the bead
  line_flow,  // mm³/s, mean over a line of the file
  mass,       // g of a range of lines
  flow,       // mm³/s at a time
  force,      // N on the screw at a time
};
inline constexpr int kinds = 5;
[[nodiscard]] std::string_view name_of(MeasuredKind kind);  // "width"
[[nodiscard]] std::string_view unit_of(MeasuredKind kind);  // "mm"
[[nodiscard]] constexpr bool by_time(MeasuredKind kind) {
  return kind == MeasuredKind::flow || kind == MeasuredKind::force;
}

struct MeasuredRow {
  MeasuredKind kind = MeasuredKind::width;
  double value = 0;             // in the unit of its kind
  std::int64_t line = 0;        // by line: of the printed file, 1-based
  std::int64_t to_line = 0;     // mass: the last line that belongs to it; else `line`
  std::optional<double> at_mm;  // width: from the line's start; nothing: its middle,
                                // and the less sure the more the line varies
  double t_s = 0;               // by time, on the sheet's own clock
  Place place;                  // of its value in the sheet
};

// Rows of one sheet in its order; rows without a value are passed over. Columns, in any order:
//   gcode_line with width_mm (and at_mm) or flow_mm3_s, or with to_line and mass_g;
//   t_s with flow_mm3_s or force_n.
// Throws Error with file:line:column where a row is neither, holds two values, or one that cannot
// be; and where no row holds a value.
[[nodiscard]] std::vector<MeasuredRow> read_measured(Sheet const& sheet);

}  // namespace meltlag::compare
