// SPDX-License-Identifier: MIT
#include "meltlag/page/layer_picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <string>

namespace meltlag::page {
namespace {

constexpr double mm_px = 9;        // a millimetre of the bed
constexpr double margin_mm = 1.5;  // around the beads
constexpr double head_px = 30;     // above them, for the caption
constexpr int steps = 5;           // of colour, on either side of right
constexpr double step_share = 0.1;
constexpr double width_step_mm = 0.05;
constexpr double least_mm3 = 1e-3;  // a smaller string is not drawn

// From far too little to far too much; right is grey. As on the pages, in the light.
constexpr std::array<char const*, 2 * steps + 1> colours{"#2166ac",
                                                         "#4885bb",
                                                         "#6ea2c9",
                                                         "#93b8d2",
                                                         "#b2c7d6",
                                                         "#cfd2d4",
                                                         "#dbb5b3",
                                                         "#d89691",
                                                         "#cf726f",
                                                         "#c2474d",
                                                         "#b2182b"};

constexpr char ink[] = "#1d2126";

int colour_of(double got_mm3, double wanted_mm3) {
  if (!(wanted_mm3 > 0)) return 2 * steps;
  double const off = (got_mm3 / wanted_mm3 - 1) / step_share;
  return steps + std::clamp(static_cast<int>(std::lround(off)), -steps, steps);
}

struct Frame {
  double left_mm, top_mm, width_mm, height_mm;
  double across_px = 0;  // where the panel begins

  double x(double x_mm) const { return across_px + (x_mm - left_mm + margin_mm) * mm_px; }
  double y(double y_mm) const { return head_px + (top_mm - y_mm + margin_mm) * mm_px; }
  double panel_px() const { return (width_mm + 2 * margin_mm) * mm_px; }
  double bottom_px() const { return head_px + (height_mm + 2 * margin_mm) * mm_px; }
};

bool lies_on(PathStretch const& stretch, std::size_t layer) {
  return stretch.layer == layer && stretch.length_mm > 0 &&
         stretch.kind != PathStretchKind::e_only && stretch.kind != PathStretchKind::rest;
}

Frame frame_of(PathRecord const& path, std::size_t layer) {
  double left = 1e300, right = -1e300, bottom = 1e300, top = -1e300;
  PathStretch const* last = nullptr;
  for (PathStretch const& stretch : path.stretches()) {
    if (last != nullptr && lies_on(stretch, layer) && stretch.kind == PathStretchKind::print) {
      for (PathStretch const* end : {last, &stretch}) {
        left = std::min<double>(left, end->x_mm), right = std::max<double>(right, end->x_mm);
        bottom = std::min<double>(bottom, end->y_mm), top = std::max<double>(top, end->y_mm);
      }
    }
    last = &stretch;
  }
  return {.left_mm = left, .top_mm = top, .width_mm = right - left, .height_mm = top - bottom};
}

// Strokes of one colour and width are one element.
class Panel {
 public:
  Panel(Frame const& frame, double layer_mm) : frame_(frame), layer_mm_(layer_mm) {}

  void add(PathStretch const& from, PathStretch const& to, StretchSide const& side) {
    double const got_mm = side.got_mm3 / layer_mm_ / to.length_mm;
    if (to.wanted_mm3 > 0) stroke(wanted_, to.wanted_mm3 / layer_mm_ / to.length_mm, 0, from, to);
    if (!(side.got_mm3 > (to.wanted_mm3 > 0 ? 0 : least_mm3))) return;
    int const colour = colour_of(side.got_mm3, to.wanted_mm3);
    bool const much = side.got_mm3 > 1.3 * to.wanted_mm3;
    if (much && got_mm > 1.2 * to.length_mm)
      disc(colour, side.got_mm3, from, to);
    else
      stroke(beads_, got_mm, colour, from, to);
  }

  void write(Out const& out) const {
    for (auto const& [key, path] : wanted_) write_strokes(out, path, "#ece9e3", key.second);
    for (auto const& [key, path] : beads_)
      write_strokes(out, path, colours[static_cast<std::size_t>(key.first)], key.second);
    out(discs_);
  }

 private:
  using Strokes = std::map<std::pair<int, int>, std::string>;  // colour, steps of width

  void stroke(Strokes& to,
              double width_mm,
              int colour,
              PathStretch const& from,
              PathStretch const& stretch) const {
    int const width = std::max(1, static_cast<int>(std::lround(width_mm / width_step_mm)));
    to[{colour, width}] += fmt::format("M{:.1f} {:.1f}L{:.1f} {:.1f}",
                                       frame_.x(from.x_mm),
                                       frame_.y(from.y_mm),
                                       frame_.x(stretch.x_mm),
                                       frame_.y(stretch.y_mm));
  }

  void disc(int colour, double mm3, PathStretch const& from, PathStretch const& to) {
    discs_ += fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{:.1f}\" fill=\"{}\"/>\n",
                          (frame_.x(from.x_mm) + frame_.x(to.x_mm)) / 2,
                          (frame_.y(from.y_mm) + frame_.y(to.y_mm)) / 2,
                          std::sqrt(mm3 / layer_mm_ / std::numbers::pi) * mm_px,
                          colours[static_cast<std::size_t>(colour)]);
  }

  static void write_strokes(Out const& out,
                            std::string const& path,
                            char const* colour,
                            int width) {
    out(fmt::format("<path d=\"{}\" stroke=\"{}\" stroke-width=\"{:.2f}\"/>\n",
                    path,
                    colour,
                    width * width_step_mm * mm_px));
  }

  Frame frame_;
  double layer_mm_;
  Strokes wanted_, beads_;
  std::string discs_;
};

void write_panel(Out const& out,
                 PathRecord const& path,
                 std::size_t layer,
                 Frame const& frame,
                 StretchSide PathStretch::*side) {
  RecordedLayer const& recorded = path.layers()[layer];
  Panel panel(frame, recorded.height_mm);
  PathStretch const* last = nullptr;
  for (PathStretch const& stretch : path.stretches()) {
    if (last != nullptr && lies_on(stretch, layer)) panel.add(*last, stretch, stretch.*side);
    last = &stretch;
  }
  bool const sliced = side == &PathStretch::before;
  double const misplaced = sliced ? recorded.misplaced_before_mm3 : recorded.misplaced_after_mm3;
  out(fmt::format("<text x=\"{:.0f}\" y=\"20\" fill=\"{}\">{}: {:.1f} % misplaced</text>\n",
                  frame.across_px + margin_mm * mm_px,
                  ink,
                  sliced ? "as sliced" : "adapted",
                  100 * misplaced / recorded.wanted_mm3));
  // Clipped: travels from and to other places leave the panel.
  out(
      fmt::format("<svg x=\"{0:.1f}\" width=\"{1:.1f}\" height=\"{2:.1f}\" viewBox=\"{0:.1f} 0 "
                  "{1:.1f} {2:.1f}\">\n",
                  frame.across_px,
                  frame.panel_px(),
                  frame.bottom_px()));
  panel.write(out);
  out("</svg>\n");
}

// What the colours mean, on one line.
void write_scale(Out const& out, double base_px) {
  double x_px = margin_mm * mm_px;
  auto const say = [&](std::string_view text, double width_px) {
    out(fmt::format(
        "<text x=\"{:.0f}\" y=\"{:.0f}\" fill=\"{}\">{}</text>\n", x_px, base_px, ink, text));
    x_px += width_px;
  };
  say("half", 36);
  for (char const* colour : colours) {
    out(fmt::format("<rect x=\"{:.0f}\" y=\"{:.0f}\" width=\"14\" height=\"14\" fill=\"{}\"/>\n",
                    x_px,
                    base_px - 12,
                    colour));
    x_px += 14;
  }
  x_px += 6;
  say("half as much again as wanted", 0);
}

}  // namespace

void write_layer_picture(Out const& out, PathRecord const& path, std::size_t layer) {
  Frame frame = frame_of(path, layer);
  double const width_px = 2 * frame.panel_px(), height_px = frame.bottom_px() + 28;
  out(
      fmt::format("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" "
                  "width=\"{0:.0f}\" height=\"{1:.0f}\" font-family=\"sans-serif\" "
                  "font-size=\"15\" fill=\"none\" stroke-linecap=\"round\">\n"
                  "<title>Layer {2} from above, as sliced and adapted</title>\n"
                  "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n",
                  width_px,
                  height_px,
                  layer + 1));
  write_panel(out, path, layer, frame, &PathStretch::before);
  frame.across_px = frame.panel_px();
  write_panel(out, path, layer, frame, &PathStretch::after);
  write_scale(out, height_px - 10);
  out("</svg>\n");
}

}  // namespace meltlag::page
