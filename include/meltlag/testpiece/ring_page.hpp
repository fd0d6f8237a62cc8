// SPDX-License-Identifier: MIT
// The page that the ring piece is printed on or laid on: marks around it whose places are known
// turn a picture of it into millimetres.
//
// Places are from the page's middle, x to the right, y down, on paper of either size. Marks are
// black discs on white; the four in the corners have one to four white holes, evenly spread about
// their middle, so that each disc's centre of area is its middle.
#pragma once

#include <vector>

namespace meltlag::testpiece {

struct PageMark {
  double x_mm = 0, y_mm = 0;
  int holes = 0;
};

namespace ring_page {
inline constexpr double half_width_mm = 98, half_height_mm = 128;  // of the frame of marks
inline constexpr double mark_mm = 5, hole_mm = 1.1, hole_from_middle_mm = 1.2;
inline constexpr double field_radius_mm = 91.5;  // of the coloured disc that rings lie on
inline constexpr double bar_mm = 150;            // each way
}  // namespace ring_page

// All marks, the corners first: upper left (1 hole), upper right (2), lower right (3), lower left
// (4).
[[nodiscard]] std::vector<PageMark> page_marks();

}  // namespace meltlag::testpiece
