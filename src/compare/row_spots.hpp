// SPDX-License-Identifier: MIT
// Where each row by line stands on the head's way.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "meltlag/base/vec.hpp"
#include "meltlag/compare/measured.hpp"
#include "meltlag/gcode/purge.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::compare {

inline constexpr double same_place_mm = 1e-6;  // on the head's way

struct Spot {
  double from_mm = 0, to_mm = 0;  // the line on the way; of a range of lines, all of them
  double straight_from_mm = 0, straight_to_mm = 0;  // around the line, without a halt of the head
  double start_s = 0, end_s = 0;
  double travel_s = 0;
  double layer_height_mm = 0;  // 0: not known
};

struct Spots {
  std::vector<Spot> rows;                 // one for each row, empty for rows by time
  std::vector<std::int64_t> layer_lines;  // where each layer begins
  gcode::BeadBox beads;                   // without a line that purges before the part
  double way_mm = 0;                      // of the whole file
  std::int64_t unknown_waits = 0;
  motion::Walked walked;

  [[nodiscard]] std::size_t layer_at(std::int64_t line) const;  // from 1; 0 before the first
};

// Throws Error where a row's line moves nothing, or no head where it has to.
[[nodiscard]] Spots find_spots(std::string const& path,
                               std::span<MeasuredRow const> rows,
                               motion::WalkOptions const& options,
                               Notices& notices);

}  // namespace meltlag::compare
