// SPDX-License-Identifier: MIT
// Pictures as SVG. Lengths across are percents of the width, so that a picture fits any screen
// while its text keeps its size; lengths down are CSS pixels. Colours are names of the page's
// variables.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "meltlag/melt/uncertain.hpp"
#include "meltlag/page/html.hpp"

namespace meltlag::page {

// An axis from 0 to a round number.
struct Scale {
  double top, step;
  [[nodiscard]] double share(double value) const { return value / top; }
  [[nodiscard]] std::vector<double> ticks() const;
};
// `most`: the largest value to be shown; `steps`: at most so many.
[[nodiscard]] Scale scale_to(double most, int steps);
// 1, 2 or 5 times a power of ten, so that `range` is not more than so many of it.
[[nodiscard]] double round_step(double range, int steps);

// The name of the colour of the share with this index; after the last the first comes again.
[[nodiscard]] std::string share_colour(std::size_t index);

enum class Anchor { start, middle, end };

// Writes at once; the destructor ends the picture.
class Drawing {
 public:
  // `label`: what it shows, for those who cannot see it.
  Drawing(Out const& out, std::string_view label, double height_px);
  ~Drawing();
  Drawing(Drawing const&) = delete;
  Drawing& operator=(Drawing const&) = delete;

  struct Point {
    double x, y;  // %, px
  };
  void box(Point corner, Point size, std::string_view colour);
  void line(Point a,
            Point b,
            std::string_view colour,
            std::string_view dashes = "none",
            double width_px = 1);
  void dot(Point centre, std::string_view colour);
  void text(Point at, Anchor anchor, std::string_view text, std::string_view colour = "ink");
  // Error bars with caps.
  void whisker_across(double y, double from, double to);
  void whisker_down(double x, double from, double to, std::string_view colour);

 private:
  Out const& out_;
};

// A name with its colour, as in a legend.
struct Key {
  std::string colour;  // of the page's variables
  std::string text;
};
void write_keys(Out const& out, std::vector<Key> const& keys);

}  // namespace meltlag::page
