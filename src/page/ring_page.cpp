// SPDX-License-Identifier: MIT
#include "meltlag/page/ring_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "meltlag/base/error.hpp"
#include "meltlag/testpiece/drawn.hpp"
#include "meltlag/testpiece/ring_page.hpp"
#include "svg_page.hpp"

namespace meltlag::page {
namespace {

constexpr double page_text_mm = 2.9, page_row_mm = 4.1;
constexpr double bar_x_mm = -93.6, bar_y_mm = -100, bar_tick_mm = 1.2, bar_pen_mm = 0.25;
constexpr double words_left_mm = -88, head_y_mm = -119, cautions_y_mm = 97;

struct PaperSize {
  double width_mm, height_mm;
};
PaperSize paper_size(Paper paper) {
  return paper == Paper::a4 ? PaperSize{210, 297} : PaperSize{215.9, 279.4};
}

constexpr std::array<std::pair<std::string_view, std::string_view>, 8> ring_colours{{
    {"black", "#000000"},
    {"white", "#ffffff"},
    {"grey", "#808080"},
    {"red", "#d01818"},
    {"green", "#108030"},
    {"blue", "#1838c0"},
    {"yellow", "#ffe000"},
    {"magenta", "#d010a0"},
}};

bool is_hex(std::string_view name) {
  return name.size() == 7 && name.front() == '#' &&
         name.find_first_not_of("0123456789abcdefABCDEF", 1) == std::string_view::npos;
}

class RingSheet {
 public:
  RingSheet(Paper paper, std::string_view background)
      : size_(paper_size(paper)),
        fill_(background_colour(background)),
        page_(size_.width_mm, size_.height_mm) {}

  std::string draw() {
    page_.circle(at(0, 0), testpiece::ring_page::field_radius_mm, fill_);
    if (fill_ == "#ffffff") outline();
    for (testpiece::PageMark const& mark : testpiece::page_marks()) draw_mark(mark);
    bars();
    words();
    return page_.finish();
  }

 private:
  [[nodiscard]] Point at(double x_mm, double y_mm) const {
    return {size_.width_mm / 2 + x_mm, size_.height_mm / 2 + y_mm};
  }

  void draw_mark(testpiece::PageMark const& mark) {
    page_.circle(at(mark.x_mm, mark.y_mm), testpiece::ring_page::mark_mm / 2, "black");
    double const out_mm = mark.holes > 1 ? testpiece::ring_page::hole_from_middle_mm : 0;
    for (int i = 0; i < mark.holes; ++i) {
      double const turn = 2 * std::numbers::pi * i / mark.holes;
      page_.circle(at(mark.x_mm + out_mm * std::cos(turn), mark.y_mm + out_mm * std::sin(turn)),
                   testpiece::ring_page::hole_mm / 2,
                   "white");
    }
  }

  // Where the field begins, on a white one: light enough to be no edge.
  void outline() {
    page_.circle(at(0, 0), testpiece::ring_page::field_radius_mm, "#f0f0f0");
    page_.circle(at(0, 0), testpiece::ring_page::field_radius_mm - 0.3, fill_);
  }

  void bars() {
    double const half = testpiece::ring_page::bar_mm / 2;
    Pen const pen = {bar_pen_mm, "black"};
    page_.line({at(-half, bar_y_mm), at(half, bar_y_mm)}, pen);
    page_.line({at(bar_x_mm, -half), at(bar_x_mm, half)}, pen);
    for (double const end : {-half, half}) {
      page_.line({at(end, bar_y_mm - bar_tick_mm), at(end, bar_y_mm + bar_tick_mm)}, pen);
      page_.line({at(bar_x_mm - bar_tick_mm / 2, end), at(bar_x_mm + bar_tick_mm / 2, end)}, pen);
    }
  }

  void words() {
    double y = head_y_mm;
    page_.text(at(words_left_mm, y),
               "Page for a piece that a picture shows, actual size",
               {4.4, {}, true});
    for (std::string const& line :
         {fmt::format("Print at 100 %. The bar below and the one at the left are {:g} mm each: "
                      "measure both;",
                      testpiece::ring_page::bar_mm),
          std::string("where they are not, give what they measure: --bar-x MM --bar-y MM."),
          std::string(
              "The piece lies on the disc, its middle within 2 mm of the disc's. Any turn, either "
              "face up; all marks must show.")})
      page_.text(at(words_left_mm, y += page_row_mm), line, {page_text_mm});
    y = cautions_y_mm;
    page_.text(at(words_left_mm, y), "Caution", {3.2, {}, true});
    for (auto const* lines : {&testpiece::rings::sheet_cautions(), &testpiece::piece::cautions()})
      for (std::string const& line : *lines)
        page_.text(at(words_left_mm, y += page_row_mm * 0.7), line, {2.5});
  }

  PaperSize size_;
  std::string fill_;
  SvgPage page_;
};

}  // namespace

std::string background_colour(std::string_view name) {
  for (auto const& [word, colour] : ring_colours)
    if (word == name) return std::string(colour);
  if (is_hex(name)) return std::string(name);
  std::string known;
  for (auto const& [word, colour] : ring_colours) known += fmt::format("{}, ", word);
  throw Error(fmt::format("there is no background '{}'", name),
              {},
              fmt::format("Backgrounds are {}or a colour as #rrggbb.", known));
}

std::string make_ring_page(Paper paper, std::string_view background) {
  return RingSheet(paper, background).draw();
}

}  // namespace meltlag::page
