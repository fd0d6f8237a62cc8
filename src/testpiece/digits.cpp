// SPDX-License-Identifier: MIT
#include "digits.hpp"

#include <array>
#include <cassert>
#include <string>
#include <string_view>

namespace meltlag::testpiece {
namespace {

// On a grid 4 wide and 8 high from the lower left corner: two characters for each point, x and y.
constexpr std::array<std::string_view, 10> shapes = {
    "0008484000",        // 0
    "0800",              // 1
    "084844040040",      // 2
    "084824444000",      // 3
    "30380343",          // 4
    "480804444000",      // 5
    "480800404404",      // 6
    "084810",            // 7
    "0408484404004044",  // 8
    "440408484000",      // 9
};
constexpr double grid_width = 4, grid_height = 8;

double width_of_digit(char digit, DigitSize const& size) {
  return digit == '1' ? 0 : size.width_mm;
}

Stroke stroke_of(char digit, double left_mm, DigitSize const& size) {
  std::string_view const shape = shapes[static_cast<std::size_t>(digit - '0')];
  Stroke stroke;
  for (std::size_t i = 0; i + 1 < shape.size(); i += 2) {
    stroke.push_back({left_mm + (shape[i] - '0') / grid_width * size.width_mm,
                      ((shape[i + 1] - '0') / grid_height - 0.5) * size.height_mm,
                      0});
  }
  return stroke;
}

}  // namespace

std::vector<Stroke> strokes_of(int number, DigitSize const& size) {
  assert(number >= 0);
  std::vector<Stroke> strokes;
  double left_mm = 0;
  for (char const digit : std::to_string(number)) {
    strokes.push_back(stroke_of(digit, left_mm, size));
    left_mm += width_of_digit(digit, size) + size.gap_mm;
  }
  return strokes;
}

double width_of(int number, DigitSize const& size) {
  double width_mm = -size.gap_mm;
  for (char const digit : std::to_string(number)) {
    width_mm += width_of_digit(digit, size) + size.gap_mm;
  }
  return width_mm;
}

}  // namespace meltlag::testpiece
