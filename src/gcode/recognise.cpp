// SPDX-License-Identifier: MIT
#include "meltlag/gcode/recognise.hpp"

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/base/text.hpp"
#include "meltlag/gcode/blocks.hpp"

namespace meltlag::gcode {
namespace {

bool is_code(Block const& block) {
  if (block.words.empty()) return false;
  Word const& word = block.words.front();
  return word.has_value && (word.letter == 'G' || word.letter == 'M' || word.letter == 'T');
}

}  // namespace

void require_gcode(std::string const& path) {
  if (!system::identity_of(path)) return;  // a pipe is read once
  LineSource source(path);
  Block block;
  while (read_next_block(source, block))
    if (is_code(block)) return;
  throw Error(block.line == 0 ? "the file is empty" : "there is no G-code in this file",
              {.file = source.name()},
              "Give the file that the slicer wrote for the printer.");
}

bool is_percent(std::string_view line) { return trim(line).starts_with('%'); }

}  // namespace meltlag::gcode
