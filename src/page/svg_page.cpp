// SPDX-License-Identifier: MIT
#include "svg_page.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <iterator>

namespace meltlag::page {
namespace {

constexpr double head_length_mm = 1.1, head_half_mm = 0.4;

void append_escaped(std::string& out, std::string_view words) {
  for (char const c : words) {
    if (c == '&') {
      out += "&amp;";
    } else if (c == '<') {
      out += "&lt;";
    } else if (c == '>') {
      out += "&gt;";
    } else {
      out += c;
    }
  }
}

}  // namespace

SvgPage::SvgPage(double wide_mm, double high_mm) {
  svg_ = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" "
      "viewBox=\"0 0 {0} {1}\" font-family=\"sans-serif\">\n"
      "<rect width=\"{0}\" height=\"{1}\" fill=\"white\"/>\n",
      wide_mm,
      high_mm);
}

void SvgPage::circle(Point centre, double radius_mm, std::string_view fill) {
  fmt::format_to(std::back_inserter(svg_),
                 "<circle cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"{:.3f}\" fill=\"{}\"/>\n",
                 centre.x_mm,
                 centre.y_mm,
                 radius_mm,
                 fill);
}

void SvgPage::line(std::vector<Point> const& points, Pen const& pen) {
  svg_ += "<polyline fill=\"none\" points=\"";
  for (Point const& point : points) {
    fmt::format_to(std::back_inserter(svg_), "{:.2f},{:.2f} ", point.x_mm, point.y_mm);
  }
  if (!points.empty()) svg_.pop_back();
  fmt::format_to(std::back_inserter(svg_),
                 "\" stroke=\"{}\" stroke-width=\"{:.2f}\"",
                 pen.colour,
                 pen.width_mm);
  if (pen.dash_mm > 0) {
    fmt::format_to(std::back_inserter(svg_), " stroke-dasharray=\"{:.2f}\"", pen.dash_mm);
  }
  svg_ += "/>\n";
}

void SvgPage::triangle(Point a, Point b, Point c, std::string_view colour) {
  fmt::format_to(std::back_inserter(svg_),
                 "<polygon points=\"{:.2f},{:.2f} {:.2f},{:.2f} {:.2f},{:.2f}\" fill=\"{}\"/>\n",
                 a.x_mm,
                 a.y_mm,
                 b.x_mm,
                 b.y_mm,
                 c.x_mm,
                 c.y_mm,
                 colour);
}

void SvgPage::arrow(Point from, Point to) {
  double const dx = to.x_mm - from.x_mm, dy = to.y_mm - from.y_mm, length = std::hypot(dx, dy);
  if (length < 1e-9) return;
  double const ux = dx / length, uy = dy / length;
  Point const foot = {to.x_mm - head_length_mm * ux, to.y_mm - head_length_mm * uy};
  line({from, foot}, {.width_mm = 0.18, .colour = "black"});
  triangle(to,
           {foot.x_mm - head_half_mm * uy, foot.y_mm + head_half_mm * ux},
           {foot.x_mm + head_half_mm * uy, foot.y_mm - head_half_mm * ux},
           "black");
}

void SvgPage::text(Point at, std::string_view words, Font const& font) {
  constexpr std::array anchors = {"start", "middle", "end"};
  fmt::format_to(std::back_inserter(svg_),
                 "<text x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\" text-anchor=\"{}\"{}>",
                 at.x_mm,
                 at.y_mm,
                 font.size_mm,
                 anchors[static_cast<std::size_t>(font.anchor)],
                 font.bold ? " font-weight=\"bold\"" : "");
  append_escaped(svg_, words);
  svg_ += "</text>\n";
}

std::string SvgPage::finish() { return std::move(svg_) + "</svg>\n"; }

}  // namespace meltlag::page
