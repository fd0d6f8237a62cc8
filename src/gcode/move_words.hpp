// SPDX-License-Identifier: MIT
// The words of a move, and the errors that only a move's line can have: elsewhere the unreadable
// passes through.
#pragma once

#include <cstddef>
#include <string>

#include "modal.hpp"

namespace meltlag::gcode {

// For E and F: far beyond any print, near enough to be exact.
constexpr double largest_number = 1e9;

// The words of one move by letter; nullptr: not given.
struct MoveWords {
  Word const *x = nullptr, *y = nullptr, *z = nullptr, *e = nullptr, *f = nullptr;
  Word const *i = nullptr, *j = nullptr, *k = nullptr, *r = nullptr;
  bool understood = true;  // no other words, none twice

  [[nodiscard]] bool has_xyz() const { return x != nullptr || y != nullptr || z != nullptr; }
  [[nodiscard]] bool has_centre() const { return i != nullptr || j != nullptr || k != nullptr; }
};

// True for letters that a move gives a meaning to.
[[nodiscard]] bool is_motion_letter(char letter);

// Sorts words by letter. Throws Error for a letter without a number.
[[nodiscard]] MoveWords collect(Line const& line, Words words);

// Throws Error when |value| > largest or not a number; `word` gives the place.
void check_size(Line const& line, Word const& word, double value, double largest);

// Throws Error when the line holds something unreadable.
void require_readable(Line const& line);

// Throws Error at the 1-based column of the line.
[[noreturn]] void fail(Line const& line, std::size_t column, std::string what, std::string hint);

}  // namespace meltlag::gcode
