// SPDX-License-Identifier: MIT
#include "meltlag/gcode/format.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <charconv>
#include <cmath>

#include "meltlag/base/text.hpp"

namespace meltlag::gcode {

void append_number(std::string& out, double value, int decimals) {
  assert(std::isfinite(value) && decimals >= 0 && decimals <= 17);
  std::array<char, 340> text;  // the largest double has 309 digits
  auto const result = std::to_chars(
      text.data(), text.data() + text.size(), value, std::chars_format::fixed, decimals);
  std::string_view number(text.data(), static_cast<std::size_t>(result.ptr - text.data()));
  if (decimals > 0) {
    while (number.back() == '0') number.remove_suffix(1);
    if (number.back() == '.') number.remove_suffix(1);
  }
  out += number == "-0" ? std::string_view("0") : number;
}

int decimals_of(Block const& block, Word const& word) {
  std::string_view const text = block.text.substr(word.begin, word.end - word.begin);
  auto const point = text.find('.');
  if (point == std::string_view::npos) return 0;
  return static_cast<int>(
      std::count_if(text.begin() + static_cast<std::ptrdiff_t>(point), text.end(), is_digit));
}

void append_numbered(std::string& out,
                     std::uint64_t number,
                     std::string_view text,
                     Checksum checksum) {
  auto const start = out.size();
  out += 'N';
  out += std::to_string(number);
  out += ' ';
  out += text;
  if (checksum == Checksum::none) return;
  auto const sum = line_checksum(std::string_view(out).substr(start));
  out += '*';
  out += std::to_string(sum);
}

}  // namespace meltlag::gcode
