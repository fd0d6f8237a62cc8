// SPDX-License-Identifier: MIT
// One line of G-code as words: the grammar. Meaning belongs in the interpreter.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

namespace meltlag::gcode {

// A letter and its number: X12.5. A letter without a number (G28 X) has has_value = false.
struct Word {
  char letter = 0;  // upper case
  bool has_value = false;
  double value = 0;
  std::uint32_t begin = 0, end = 0;  // bytes of the line's text: letter … last digit, end exclusive
};

// A line of text and what could be read of it. Views point into the text given to read_block.
struct Block {
  std::string_view text;        // without its line break
  std::string_view line_break;  // "\n", "\r\n", "\r" or empty at the end of the file
  std::int64_t line = 0;        // 1-based
  bool block_delete = false;    // starts with '/'
  bool has_number = false;      // N word in front
  std::uint64_t number = 0;
  bool has_checksum = false;  // *123 that belongs to an N line
  bool checksum_ok = true;
  std::uint32_t checksum = 0;
  std::vector<Word> words;   // without N and the checksum; reused from line to line
  std::string_view comment;  // from the first ';' to the end, with it but without
                             // a right checksum after it; empty if none
  std::size_t bad_column =
      0;  // 1-based column of the first character that cannot be read; 0 if none
};

// Reads one line without its line break (Boost.Spirit X3 grammar). Overwrites text, words, comment
// and the fields derived from them; leaves line, line_break. Never throws; time is linear in the
// length.
void read_block(std::string_view text, Block& block);

// XOR of all bytes, as printers check `N… *cs`.
// The line without its N word; the whole line where it has none.
[[nodiscard]] std::string_view without_number(Block const& block);

[[nodiscard]] std::uint8_t line_checksum(std::string_view text);

}  // namespace meltlag::gcode
