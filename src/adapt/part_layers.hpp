// SPDX-License-Identifier: MIT
// A sliced file as lines in layers.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/adapt/side_by_side.hpp"
#include "meltlag/gcode/block.hpp"
#include "meltlag/gcode/move.hpp"

namespace meltlag::adapt {

struct PartLine {
  std::string text;  // without its line break
  bool is_motion = false;
  bool sets_mode = false;  // M82, M83, G90, G91, G92: every copy needs it
  std::optional<gcode::Move> move;
  double debt_mm = 0;  // E drawn back and not yet given again, after the line
};

struct PartLayer {
  std::size_t begin = 0, end = 0;               // lines, from 0, end exclusive
  std::size_t first_print = 0, last_print = 0;  // within them
};

struct Part {
  std::vector<PartLine> lines;
  std::vector<PartLayer> layers;
  double x_from_mm = 0, x_to_mm = 0;  // of what is printed
  double fastest_feed_word = 0;       // of travels, in the file's units per minute
};

[[nodiscard]] Part read_part(std::string const& path,
                             SideBySideOptions const& options,
                             Notices& notices);

}  // namespace meltlag::adapt
