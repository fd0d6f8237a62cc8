// SPDX-License-Identifier: MIT
#include "meltlag/profile/settings_report.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "meltlag/base/error.hpp"

namespace meltlag::profile {
namespace {

struct Word {
  char letter;
  double value;
};

bool is_digit(char c) { return c >= '0' && c <= '9'; }
char upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }

// Reads one line's words from left to right.
class Words {
 public:
  Words(std::string_view line, std::size_t at, Place place)
      : line_(line), at_(at), place_(std::move(place)) {}

  // Nothing at the line's end or where a comment begins.
  std::optional<Word> next() {
    while (at_ < line_.size() && (line_[at_] == ' ' || line_[at_] == '\t')) ++at_;
    if (at_ >= line_.size() || line_[at_] == ';' || line_[at_] == '(') return std::nullopt;
    place_.column = static_cast<std::int64_t>(at_) + 1;
    char const letter = upper(line_[at_++]);
    double value = 0;
    char const* const end = line_.data() + line_.size();
    auto const [stop, problem] = std::from_chars(line_.data() + at_, end, value);
    if (letter < 'A' || letter > 'Z' || problem != std::errc{} || !std::isfinite(value))
      throw Error(fmt::format("cannot read this value of the printer's settings: '{}'",
                              line_.substr(at_ - 1)),
                  place_,
                  "a letter and a number are expected, for example X500.00");
    at_ = static_cast<std::size_t>(stop - line_.data());
    return Word{letter, value};
  }

  double non_negative(Word word) const {
    if (word.value > 0) return word.value;
    throw Error(
        fmt::format(
            "{}{} in the printer's settings is not greater than 0", word.letter, word.value),
        place_,
        "correct the line, or give the value in the profile and take the letter out");
  }

 private:
  std::string_view line_;
  std::size_t at_;
  Place place_;
};

void read_axes(Words& words, SomeAxes& axes) {
  constexpr std::string_view letters = "XYZE";
  while (auto const word = words.next()) {
    std::size_t const axis = letters.find(word->letter);
    if (axis != std::string_view::npos) axes[axis] = words.non_negative(*word);
  }
}

void read_acceleration(Words& words, SettingsReport& report) {
  std::optional<double> all, printing, travel;
  while (auto const word = words.next()) {
    if (word->letter == 'S') all = words.non_negative(*word);
    if (word->letter == 'P') printing = words.non_negative(*word);
    if (word->letter == 'T') travel = words.non_negative(*word);
    if (word->letter == 'R') report.retract_acceleration_mm_s2 = words.non_negative(*word);
  }
  if (printing || all) report.acceleration_mm_s2 = printing ? printing : all;
  // Without P the letter T means the acceleration of retracts.
  if (printing && travel) report.travel_acceleration_mm_s2 = travel;
}

void read_corners(Words& words, SettingsReport& report) {
  constexpr std::string_view letters = "XYZE";
  while (auto const word = words.next()) {
    std::size_t const axis = letters.find(word->letter);
    if (axis != std::string_view::npos) report.corner_jump_mm_s[axis] = words.non_negative(*word);
    if (word->letter == 'J') report.corner_rounding_mm = words.non_negative(*word);
  }
}

// True where the line held one of the four codes.
bool read_line(std::string_view line, Place const& place, SettingsReport& report) {
  for (std::size_t at = 0; at + 4 <= line.size(); ++at) {
    if (upper(line[at]) != 'M' || line.substr(at + 1, 2) != "20") continue;
    if (at + 4 < line.size() && is_digit(line[at + 4])) continue;
    Words words(line, at + 4, place);
    switch (line[at + 3]) {
      case '1':
        read_axes(words, report.max_acceleration_mm_s2);
        return true;
      case '3':
        read_axes(words, report.max_speed_mm_s);
        return true;
      case '4':
        read_acceleration(words, report);
        return true;
      case '5':
        read_corners(words, report);
        return true;
      default:
        break;
    }
  }
  return false;
}

}  // namespace

SettingsReport read_settings_report(std::string_view text, std::string const& name) {
  SettingsReport report;
  Place place{.file = name};
  bool found = false;
  while (!text.empty()) {
    std::size_t const end = text.find('\n');
    std::string_view line = text.substr(0, end);
    if (line.ends_with('\r')) line.remove_suffix(1);
    ++place.line;
    found = read_line(line, place, report) || found;
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  if (!found)
    throw Error(
        "no line with M201, M203, M204 or M205 was found",
        {.file = name},
        "ask the printer for its settings (M503 on most) and save all it answers to this file");
  return report;
}

}  // namespace meltlag::profile
