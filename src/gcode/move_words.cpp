// SPDX-License-Identifier: MIT
#include "move_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "meltlag/base/error.hpp"

namespace meltlag::gcode {
namespace {

// A piece of the line for a message: from `begin` to the next blank, not too long, printable.
std::string excerpt(std::string_view text, std::size_t begin) {
  constexpr std::size_t longest = 24;
  auto const end = std::min(text.find_first_of(" \t;(", begin + 1), text.size());
  std::string piece(text.substr(begin, std::min(end - begin, longest)));
  std::ranges::replace_if(
      piece, [](char c) { return c < ' ' || c > '~'; }, '?');
  return piece;
}

[[noreturn]] void fail_without_number(Line const& line, Word const& word) {
  fail(line,
       word.begin + 1,
       fmt::format("cannot read '{}': expected a number after {}",
                   excerpt(line.block.text, word.begin),
                   word.letter),
       "Correct this line of a move; variables and expressions must be replaced by numbers.");
}

Word const** slot(MoveWords& move, char letter) {
  switch (letter) {
    case 'X':
      return &move.x;
    case 'Y':
      return &move.y;
    case 'Z':
      return &move.z;
    case 'E':
      return &move.e;
    case 'F':
      return &move.f;
    case 'I':
      return &move.i;
    case 'J':
      return &move.j;
    case 'K':
      return &move.k;
    case 'R':
      return &move.r;
    default:
      return nullptr;
  }
}

}  // namespace

bool is_motion_letter(char letter) {
  MoveWords words;
  return slot(words, letter) != nullptr;
}

void require_readable(Line const& line) {
  if (line.block.bad_column == 0) return;
  std::size_t const begin = line.block.bad_column - 1;
  fail(line,
       line.block.bad_column,
       fmt::format("cannot read '{}' in a move", excerpt(line.block.text, begin)),
       "Correct this line; put a comment after ';', and numbers in place of expressions.");
}

MoveWords collect(Line const& line, Words words) {
  MoveWords move;
  for (Word const& word : words) {
    if (!word.has_value) fail_without_number(line, word);
    Word const** const place = slot(move, word.letter);
    if (place == nullptr) {
      if (word.letter == 'G') continue;  // the motion code itself, and modal codes beside it
      line.note("a move with words other than X Y Z E F I J K R: left as it is");
      move.understood = false;
      continue;
    }
    if (*place != nullptr) {
      line.note("a move names the same axis twice: the last one is taken, the line left as it is");
      move.understood = false;
    }
    *place = &word;
  }
  if (line.modal.motion < 2 && (move.has_centre() || move.r != nullptr)) {
    line.note("a straight move with I, J, K or R: they mean nothing, the line is left as it is");
    move.understood = false;
  }
  return move;
}

void check_size(Line const& line, Word const& word, double value, double largest) {
  if (std::abs(value) <= largest) return;
  fail(line,
       word.begin + 1,
       fmt::format("{} is out of range: {} at most {:.0f}{}",
                   excerpt(line.block.text, word.begin),
                   word.letter,
                   largest,
                   largest == largest_coordinate_mm ? " mm" : ""),
       "Correct the number; a point may be lost or two lines run together.");
}

void fail(Line const& line, std::size_t column, std::string what, std::string hint) {
  throw Error(std::move(what),
              {.file = line.file_name,
               .line = line.block.line,
               .column = static_cast<std::int64_t>(column)},
              std::move(hint));
}

}  // namespace meltlag::gcode
