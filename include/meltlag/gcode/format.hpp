// SPDX-License-Identifier: MIT
// Numbers and lines as text, for whoever rewrites a line.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "meltlag/gcode/block.hpp"

namespace meltlag::gcode {

// Appends `value` rounded to `decimals` (0 … 17) places, without trailing zeros and never as "-0".
// REQUIRES: value is finite.
void append_number(std::string& out, double value, int decimals);

// How many digits stand after the point of the word's number; 0 when it has no point.
[[nodiscard]] int decimals_of(Block const& block, Word const& word);

enum class Checksum : std::uint8_t { none, append };

// Appends "N<number> <text>", and "*<checksum>" where asked. `text` has neither N nor checksum.
void append_numbered(std::string& out,
                     std::uint64_t number,
                     std::string_view text,
                     Checksum checksum);

}  // namespace meltlag::gcode
