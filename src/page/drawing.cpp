// SPDX-License-Identifier: MIT
#include "drawing.hpp"

#include <fmt/format.h>

#include <cmath>

namespace meltlag::page {
namespace {

std::string_view name_of(Anchor anchor) {
  return anchor == Anchor::start ? "start" : anchor == Anchor::middle ? "middle" : "end";
}

}  // namespace

std::string share_colour(std::size_t index) {
  constexpr std::size_t colours = 7;
  return fmt::format("share-{}", index % colours);
}

double round_step(double range, int steps) {
  if (!(range > 0) || !std::isfinite(range)) return 1;
  double const least = range / steps;
  double const unit = std::pow(10.0, std::floor(std::log10(least)));
  for (double const factor : {1.0, 2.0, 5.0})
    if (factor * unit >= least * (1 - 1e-9)) return factor * unit;
  return 10 * unit;
}

Scale scale_to(double most, int steps) {
  double const step = round_step(most, steps);
  return {step * std::max(1.0, std::ceil(most / step - 1e-9)), step};
}

std::vector<double> Scale::ticks() const {
  std::vector<double> out;
  for (int i = 0; i * step < top * (1 + 1e-9); ++i) out.push_back(i * step);
  return out;
}

Drawing::Drawing(Out const& out, std::string_view label, double height_px) : out_(out) {
  out_(fmt::format(
      "<svg class=\"drawing\" role=\"img\" aria-label=\"{}\" width=\"100%\" height=\"{:.0f}\">\n",
      escape_html(label),
      height_px));
}

Drawing::~Drawing() { out_("</svg>\n"); }

void Drawing::box(Point corner, Point size, std::string_view colour) {
  out_(
      fmt::format("<rect x=\"{:.3f}%\" y=\"{:.1f}\" width=\"{:.3f}%\" height=\"{:.1f}\" "
                  "style=\"fill:var(--{})\"/>\n",
                  corner.x,
                  corner.y,
                  size.x,
                  size.y,
                  colour));
}

void Drawing::line(
    Point a, Point b, std::string_view colour, std::string_view dashes, double width_px) {
  out_(
      fmt::format("<line x1=\"{:.3f}%\" y1=\"{:.1f}\" x2=\"{:.3f}%\" y2=\"{:.1f}\" "
                  "style=\"stroke:var(--{});stroke-dasharray:{};stroke-width:{:g}\"/>\n",
                  a.x,
                  a.y,
                  b.x,
                  b.y,
                  colour,
                  dashes,
                  width_px));
}

void Drawing::dot(Point centre, std::string_view colour) {
  out_(fmt::format("<circle cx=\"{:.3f}%\" cy=\"{:.1f}\" r=\"4\" style=\"fill:var(--{})\"/>\n",
                   centre.x,
                   centre.y,
                   colour));
}

void Drawing::text(Point at, Anchor anchor, std::string_view text, std::string_view colour) {
  out_(
      fmt::format("<text x=\"{:.3f}%\" y=\"{:.1f}\" text-anchor=\"{}\" "
                  "style=\"fill:var(--{})\">{}</text>\n",
                  at.x,
                  at.y,
                  name_of(anchor),
                  colour,
                  escape_html(text)));
}

void Drawing::whisker_across(double y, double from, double to) {
  constexpr double cap = 5;
  line({from, y}, {to, y}, "paper", "none", 4);  // stands out on a dark bar
  for (double const x : {from, to})
    line({x, y - cap - 1.5}, {x, y + cap + 1.5}, "paper", "none", 4);
  line({from, y}, {to, y}, "ink", "none", 1.5);
  for (double const x : {from, to}) line({x, y - cap}, {x, y + cap}, "ink", "none", 1.5);
}

void Drawing::whisker_down(double x, double from, double to, std::string_view colour) {
  constexpr double cap = 1.2;
  line({x, from}, {x, to}, colour);
  for (double const y : {from, to}) line({x - cap, y}, {x + cap, y}, colour);
}

void write_keys(Out const& out, std::vector<Key> const& keys) {
  out("<ul class=\"keys\">\n");
  for (Key const& key : keys) {
    out(fmt::format(
        "<li><i style=\"background:var(--{})\"></i>{}</li>\n", key.colour, escape_html(key.text)));
  }
  out("</ul>\n");
}

}  // namespace meltlag::page
