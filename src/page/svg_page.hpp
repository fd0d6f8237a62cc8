// SPDX-License-Identifier: MIT
// A page of SVG in mm.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace meltlag::page {

struct Point {
  double x_mm, y_mm;  // from the page's upper left corner
};

struct Pen {
  double width_mm;
  std::string_view colour;
  double dash_mm = 0;  // 0: unbroken
};

enum class TextAnchor : unsigned char { start, middle, end };
struct Font {
  double size_mm;
  TextAnchor anchor = TextAnchor::start;
  bool bold = false;
};

class SvgPage {
 public:
  static constexpr double width_mm = 210, height_mm = 297;  // A4

  SvgPage() : SvgPage(width_mm, height_mm) {}
  SvgPage(double wide_mm, double high_mm);
  void circle(Point centre, double radius_mm, std::string_view fill);
  void line(std::vector<Point> const& points, Pen const& pen);
  void triangle(Point a, Point b, Point c, std::string_view colour);
  // A thin arrow whose tip is at `to`.
  void arrow(Point from, Point to);
  // `words` is plain text; its base line starts at `at`.
  void text(Point at, std::string_view words, Font const& font);
  [[nodiscard]] std::string finish();

 private:
  std::string svg_;
};

}  // namespace meltlag::page
