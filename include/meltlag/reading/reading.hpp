// SPDX-License-Identifier: MIT
// What a person reads off a printed piece: rows of the measurement sheet.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/base/sheet.hpp"
#include "meltlag/reading/printed_path.hpp"

namespace meltlag::reading {

enum class ReadingKind : std::uint8_t {
  width,           // mm, mean over the jaw and over the layers
  place_at_width,  // mm along the ruler where calipers locked at a width stop
  tail,            // mm that a bead still reaches after the screw has stopped
  gap,             // mm until a restarted bead appears
  mass,            // g of the lines named, or of the whole piece
  height,          // mm of the fence at this trace
};
[[nodiscard]] std::string_view name_of(ReadingKind kind);  // as in the sheet

struct Reading {
  int row = 0;  // the map's number of it, from 1
  Place place;  // of its value
  std::string trace;
  ReadingKind kind = ReadingKind::width;
  double ruler_mm = 0;
  std::optional<double> value;     // empty: not measured
  std::optional<double> expected;  // as the sheet said, for a middling machine
  double locked_mm = 0;            // place_at_width: what the calipers are locked at
  std::vector<std::int64_t> lines;
  std::vector<double> at_mm;  // from the start of each line's move; as many as lines
  double length_mm = 0;       // of bead that a width read off a picture is the mean of; else 0
  double sd_mm = 0;           // of such a width
  std::string note;
};

// The sheet's text: a header line, one line a reading. Values are left empty.
[[nodiscard]] std::string write_sheet(std::span<Reading const> readings);

// Reads a filled-in sheet; rows without a value are skipped. Columns needed: trace, ruler_mm, kind,
// value, lines, at_mm; length_mm and sd_mm where a picture was read; `row` holds the map's number,
// else rows are counted. Throws Error with
// file:row:column for an unknown kind, a value that cannot be, lines that the file does not have or
// that print nothing, and a place outside its move.
[[nodiscard]] std::vector<Reading> read_readings(Sheet const& sheet, PrintedPath const& path);

// The same with the rows that have no value, for what was meant to stand in them.
[[nodiscard]] std::vector<Reading> read_all_rows(Sheet const& sheet, PrintedPath const& path);

// How much higher a layer is than the one below, by the lines of the readings; without two layers
// the height of their first; nothing where no row names a line. mm.
[[nodiscard]] std::optional<double> layer_height_mm(PrintedPath const& path,
                                                    std::span<Reading const> readings);

}  // namespace meltlag::reading
