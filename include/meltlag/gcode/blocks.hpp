// SPDX-License-Identifier: MIT
// The lines of a source, each read by the grammar, in order.
#pragma once

#include <cstdint>

#include "meltlag/gcode/block.hpp"
#include "meltlag/gcode/source.hpp"

namespace meltlag::gcode {

// Calls take(Block const&) for every line that is left, with its number and line break set; what
// the block holds is gone with the next one. Returns the last line's number, 0 where none is left.
// Throws what next() throws.
template <class Take>
std::int64_t for_each_block(LineSource& source, Take&& take) {
  RawLine raw;
  Block block;
  std::int64_t last = 0;
  while (source.next(raw)) {
    block.line = last = raw.line;
    block.line_break = raw.line_break;
    read_block(raw.text, block);
    take(block);
  }
  return last;
}

}  // namespace meltlag::gcode
