// SPDX-License-Identifier: MIT
// The lines of a source, each read by the grammar, in order.
#pragma once

#include <cstdint>

#include "meltlag/gcode/block.hpp"
#include "meltlag/gcode/source.hpp"

namespace meltlag::gcode {

// Reads the next line with its number and line break; what the block held before is gone. False at
// the end. Throws what next() throws.
[[nodiscard]] inline bool read_next_block(LineSource& source, Block& block) {
  RawLine raw;
  if (!source.next(raw)) return false;
  block.line = raw.line;
  block.line_break = raw.line_break;
  read_block(raw.text, block);
  return true;
}

// Calls take(Block const&) for every line that is left. Returns the last line's number, 0 where
// none is left.
template <class Take>
std::int64_t for_each_block(LineSource& source, Take&& take) {
  Block block;
  while (read_next_block(source, block)) take(block);
  return block.line;
}

}  // namespace meltlag::gcode
