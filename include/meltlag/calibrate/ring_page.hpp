// SPDX-License-Identifier: MIT
// The page that the ring piece is printed on or laid on: marks around it whose places are known
// turn a picture of it into millimetres.
//
// Places are from the page's middle, x to the right, y down, on paper of either size. Marks are
// black discs on white; the four in the corners have one to four white holes, evenly spread about
// their middle, so that each disc's centre of area is its middle.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace meltlag::calibrate {

enum class Paper : std::uint8_t { a4, letter };

struct PageMark {
  double x_mm = 0, y_mm = 0;
  int holes = 0;
};

namespace page {
inline constexpr double half_width_mm = 98, half_height_mm = 128;  // of the frame of marks
inline constexpr double mark_mm = 5, hole_mm = 1.1, hole_from_middle_mm = 1.2;
inline constexpr double field_radius_mm = 91.5;  // of the coloured disc that rings lie on
inline constexpr double bar_mm = 150;            // each way
}  // namespace page

// All marks, the corners first: upper left (1 hole), upper right (2), lower right (3), lower left
// (4).
[[nodiscard]] std::vector<PageMark> page_marks();

// "black", "white", "blue", … or "#1f3fd0" as a colour of SVG. Throws Error for another word.
[[nodiscard]] std::string background_colour(std::string_view name);

// The page as SVG at 1:1. `background` as background_colour() takes it.
[[nodiscard]] std::string make_ring_page(Paper paper, std::string_view background);

}  // namespace meltlag::calibrate
