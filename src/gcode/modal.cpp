// SPDX-License-Identifier: MIT
#include "modal.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace meltlag::gcode {
namespace {

constexpr double largest_code = 1e6;

// "G92.1" as the user would write it.
std::string written(Word const& command) {
  return fmt::format("{}{:.6g}", command.letter, command.value);
}

}  // namespace

double NozzleTemperatures::at(int tool) const {
  auto const index = static_cast<std::size_t>(tool);
  bool const own = tool >= 0 && index < tools && !std::isnan(of_tool_c[index]);
  return own ? of_tool_c[index] : common_c;
}

void NozzleTemperatures::set(int tool, double temperature_c) {
  if (tool >= 0 && static_cast<std::size_t>(tool) < tools) {
    of_tool_c[static_cast<std::size_t>(tool)] = temperature_c;
  }
}

Code code_of(Word const& word) {
  if (!word.has_value || !(word.value >= 0 && word.value <= largest_code)) return {};
  auto const whole = static_cast<int>(word.value);
  if (whole == word.value) return {.number = whole};
  auto const sub = static_cast<int>(std::lround((word.value - whole) * 10));
  return sub == 10 ? Code{.number = whole + 1} : Code{.number = whole, .sub = sub};
}

void Line::note_not_modelled(Word const& command) const {
  note(written(command) + ": passed through, not modelled");
}

void Line::note_word_not_modelled(Word const& command, char letter) const {
  note(fmt::format(
      "{} with {}: passed through, that part is not modelled", written(command), letter));
}

Word const* find(Words words, char letter) {
  auto const found = std::ranges::find(words, letter, &Word::letter);
  return found == words.end() ? nullptr : &*found;
}

double value_or(Words words, char letter, double otherwise) {
  Word const* const word = find(words, letter);
  return word != nullptr && word->has_value ? word->value : otherwise;
}

}  // namespace meltlag::gcode
