// SPDX-License-Identifier: MIT
#include "meltlag/testpiece/ring_page.hpp"

namespace meltlag::testpiece {
namespace {

constexpr int between_sides = 5, between_ends = 4;  // marks between two corners

}  // namespace

std::vector<PageMark> page_marks() {
  double const x = ring_page::half_width_mm, y = ring_page::half_height_mm;
  std::vector<PageMark> out = {{-x, -y, 1}, {x, -y, 2}, {x, y, 3}, {-x, y, 4}};
  for (int i = 1; i <= between_ends; ++i)
    for (double const end : {-y, y})
      out.push_back({x * (2.0 * i / (between_ends + 1) - 1), end, 0});
  for (int i = 1; i <= between_sides; ++i)
    for (double const side : {-x, x})
      out.push_back({side, y * (2.0 * i / (between_sides + 1) - 1), 0});
  return out;
}

}  // namespace meltlag::testpiece
