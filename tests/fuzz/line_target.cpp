// SPDX-License-Identifier: MIT
// The grammar: every byte of a text is in one line, every view lies within its line.
#include <string>

#include "meltlag/gcode/block.hpp"
#include "meltlag/gcode/source.hpp"
#include "target.hpp"

namespace meltlag::fuzz {
namespace {

void check_words(gcode::Block const& block, std::string_view text) {
  std::uint32_t reached = 0;
  for (gcode::Word const& word : block.words) {
    promise(word.begin >= reached && word.begin < word.end && word.end <= text.size(),
            "a word lies outside its line");
    promise(word.letter >= 'A' && word.letter <= 'Z', "a word begins with no letter");
    promise(word.value == word.value, "a word is no number");
    reached = word.end;
  }
  promise(block.bad_column <= text.size(), "the bad column lies outside the line");
  promise(block.comment.empty() ||
              (block.comment.data() >= text.data() &&
               block.comment.data() + block.comment.size() <= text.data() + text.size()),
          "the comment lies outside its line");
}

}  // namespace

void try_bytes(std::string_view bytes) {
  auto source = gcode::LineSource::from_text(bytes, "fuzz");
  gcode::RawLine raw;
  gcode::Block block;
  std::string again;
  std::int64_t lines = 0;
  while (source.next(raw)) {
    if (lines++ == 0) again += source.bom();
    promise(raw.line == lines, "a line is not counted");
    promise(raw.offset == again.size(), "a line begins elsewhere");
    again += raw.text;
    again += raw.line_break;
    gcode::read_block(raw.text, block);
    check_words(block, raw.text);
  }
  if (lines == 0) again += source.bom();
  promise(again == bytes, "reading lost bytes");
}

}  // namespace meltlag::fuzz
