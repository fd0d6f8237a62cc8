// SPDX-License-Identifier: MIT
#include "barrel_picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "drawing.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

// In units of the picture: names to the left, the barrel in the middle, temperatures to the right.
constexpr double wide = 400, top = 40, bottom = 18, middle = 208, half = 64;
constexpr double tallest = 420, lowest = 150, plot_left = 288, plot_right = 388;
constexpr double between_names = 31;
constexpr std::size_t name_columns = 22;
constexpr double wall_unknown_mm = 2;  // drawn where nothing is known

enum class BarrelLengthKind { tube, section, gap, hole };

// What lies between two heights, from the hopper on.
struct BarrelLength {
  BarrelLengthKind kind;
  double length_mm, bore_mm, core_mm;
  double outer_mm;  // 0: not known
  std::string name, sizes;
};

std::string diameter(double mm) { return fmt::format("⌀{}", report::number(mm, 2)); }

void add_tube(std::vector<BarrelLength>& pieces, report::BarrierPage const& page) {
  for (melt::TubeStep const& step : page.barrier.steps) {
    pieces.push_back(
        {BarrelLengthKind::tube,
         step.length_mm,
         step.inner_mm,
         step.screw_core_mm,
         step.outer_mm,
         "tube, " + (step.material.empty() ? fmt::format("{:g} W/(m·K)", step.conductivity_w_m_k)
                                           : step.material),
         fmt::format("{} mm, {} in {}",
                     report::number(step.length_mm, 2),
                     diameter(step.inner_mm),
                     diameter(step.outer_mm))});
  }
}

BarrelLength piece_of(melt::BarrelSection const& section) {
  std::string sizes = fmt::format(
      "{} mm, bore {}", report::number(section.length_mm, 2), diameter(section.bore_mm));
  return {BarrelLengthKind::section,
          section.length_mm,
          section.bore_mm,
          section.screw_core_mm,
          0,
          section.screw_core_mm > 0 ? fmt::format("screw, core {}", diameter(section.screw_core_mm))
                                    : "without screw",
          std::move(sizes)};
}

std::vector<BarrelLength> pieces_of(BarrelPicture const& picture) {
  std::vector<BarrelLength> pieces;
  if (picture.barrier) add_tube(pieces, *picture.barrier);
  auto const& sections = picture.barrel.sections;
  auto const has_screw = [](melt::BarrelSection const& s) { return s.screw_core_mm > 0; };
  auto const last = std::find_if(sections.rbegin(), sections.rend(), has_screw);
  auto const tip = static_cast<std::size_t>(  // the screw ends below it
      (last == sections.rend() ? sections.end() : last.base()) - sections.begin() - 1);
  for (std::size_t i = 0; i < sections.size(); ++i) {
    pieces.push_back(piece_of(sections[i]));
    double const gap = picture.barrel.tip_gap_mm;
    if (i != tip || gap <= 0) continue;
    pieces.push_back({BarrelLengthKind::gap,
                      gap,
                      sections[i].bore_mm,
                      0,
                      0,
                      "tip gap",
                      fmt::format("{} mm", report::number(gap, 2))});
  }
  if (picture.nozzle) {
    melt::Nozzle const& nozzle = *picture.nozzle;
    pieces.push_back(
        {BarrelLengthKind::hole,
         nozzle.hole_length_mm,
         nozzle.diameter_mm,
         0,
         0,
         "nozzle's hole",
         fmt::format(
             "{} mm, {}", report::number(nozzle.hole_length_mm, 2), diameter(nozzle.diameter_mm))});
  }
  return pieces;
}

class Picture {
 public:
  Picture(Out const& out, BarrelPicture const& picture)
      : out_(out), picture_(picture), pieces_(pieces_of(picture)) {
    double widest = 1;
    for (BarrelLength const& piece : pieces_) {
      length_mm_ += piece.length_mm;
      widest = std::max({widest, piece.outer_mm, piece.bore_mm + 2 * wall_unknown_mm});
      if (piece.kind == BarrelLengthKind::tube) tube_mm_ += piece.length_mm;
    }
    scale_ = std::min(tallest / length_mm_, 2 * half / widest);
    place_names();
  }

  void write() {
    double const names_end = names_.empty() ? 0 : names_.back() + 16;
    double const height = std::max({top + length_mm_ * scale_, names_end, top + lowest}) + bottom;
    out_(
        fmt::format("<svg class=\"barrel\" role=\"img\" aria-label=\"The barrel to scale, from the "
                    "hopper down to the nozzle\" viewBox=\"0 0 {} {:.0f}\">\n<defs><pattern "
                    "id=\"granules\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\">"
                    "<circle cx=\"2\" cy=\"2\" r=\"1.5\" style=\"fill:var(--share-1)\"/>"
                    "<circle cx=\"5.5\" cy=\"5.5\" r=\"1.5\" style=\"fill:var(--share-1)\"/>"
                    "</pattern></defs>\n",
                    wide,
                    height));
    text(middle, top - 10, "middle", "hopper", "soft");
    walls();
    plastic();
    screw();
    names();
    if (picture_.barrier) temperatures(*picture_.barrier);
    out_("</svg>\n");
  }

 private:
  [[nodiscard]] double down(double mm) const { return top + mm * scale_; }

  void rect(double from_mm, double to_mm, double across_mm, std::string_view style) {
    if (to_mm <= from_mm || across_mm <= 0) return;
    out_(
        fmt::format("<rect x=\"{:.2f}\" y=\"{:.2f}\" width=\"{:.2f}\" height=\"{:.2f}\" "
                    "style=\"{}\"/>\n",
                    middle - across_mm * scale_ / 2,
                    down(from_mm),
                    across_mm * scale_,
                    (to_mm - from_mm) * scale_,
                    style));
  }
  void line(double x1, double y1, double x2, double y2, std::string_view style) {
    out_(fmt::format(
        "<line x1=\"{:.2f}\" y1=\"{:.2f}\" x2=\"{:.2f}\" y2=\"{:.2f}\" style=\"{}\"/>\n",
        x1,
        y1,
        x2,
        y2,
        style));
  }
  void text(double x,
            double y,
            std::string_view anchor,
            std::string_view words,
            std::string_view colour) {
    out_(
        fmt::format("<text x=\"{:.2f}\" y=\"{:.2f}\" text-anchor=\"{}\" "
                    "style=\"fill:var(--{})\">{}</text>\n",
                    x,
                    y,
                    anchor,
                    colour,
                    escape_html(words)));
  }

  // Calls with each piece and where it begins.
  template <class Each>
  void each(Each const& call) const {
    double at = 0;
    for (BarrelLength const& piece : pieces_) {
      call(piece, at);
      at += piece.length_mm;
    }
  }

  void walls() {
    double bore = 0;  // of the piece above: the nozzle is drawn as wide as what it closes
    each([&](BarrelLength const& piece, double at) {
      double const inner = piece.kind == BarrelLengthKind::hole ? bore : piece.bore_mm;
      bool const known = piece.outer_mm > 0;
      rect(at,
           at + piece.length_mm,
           known ? piece.outer_mm : inner + 2 * wall_unknown_mm,
           known ? "fill:var(--middle);stroke:var(--soft)"
                 : "fill:var(--ghost);stroke:var(--soft);stroke-dasharray:3 2");
      bore = piece.bore_mm;
    });
  }

  // Where granules end and melt begins, from the hopper's end.
  [[nodiscard]] double melt_from_mm() const {
    if (!picture_.barrier) return 0;
    melt::BarrierState const& state = picture_.barrier->working;
    if (state.softens_at_mm) return *state.softens_at_mm;
    return state.melt_mm3 > 0 ? 0 : tube_mm_;
  }

  void plastic() {
    double const melt_from = melt_from_mm();
    each([&](BarrelLength const& piece, double at) {
      double const end = at + piece.length_mm, edge = std::clamp(melt_from, at, end);
      rect(at, edge, piece.bore_mm, "fill:var(--paper)");
      rect(at, edge, piece.bore_mm, "fill:url(#granules)");
      rect(edge, end, piece.bore_mm, "fill:var(--share-1)");
    });
    if (!picture_.barrier || !picture_.barrier->working.softens_at_mm) return;
    line(middle - half, down(melt_from), plot_right, down(melt_from), dashed_line);
  }

  void screw() {
    constexpr std::string_view steel = "fill:var(--middle);stroke:var(--ink);stroke-width:.7";
    double tip_mm = 0;
    each([&](BarrelLength const& piece, double at) {
      rect(at, at + piece.length_mm, piece.core_mm, steel);
      if (piece.core_mm > 0) tip_mm = at + piece.length_mm;
    });
    auto const across = picture_.barrel.screw_diameter_mm, pitch = picture_.barrel.screw_pitch_mm;
    if (!across || !pitch || *pitch * scale_ < 3) return;
    double const reach = *across * scale_ / 2;
    for (double at = 0; at + *pitch / 2 <= tip_mm; at += *pitch) {
      line(middle - reach,
           down(at),
           middle + reach,
           down(at + *pitch / 2),
           "stroke:var(--ink);stroke-width:2.2");
    }
  }

  // Names stand at the middle of their piece, further down where there is no room.
  void place_names() {
    double last = top - between_names;
    each([&](BarrelLength const& piece, double at) {
      last = std::max(down(at + piece.length_mm / 2) - 4, last + between_names);
      names_.push_back(last);
    });
  }

  void names() {
    std::size_t i = 0;
    each([&](BarrelLength const& piece, double at) {
      double const y = names_[i++], outside = std::max(piece.outer_mm, piece.bore_mm) * scale_ / 2;
      text(0, y, "start", report::cut_to(piece.name, name_columns), "ink");
      text(0, y + 13, "start", report::cut_to(piece.sizes, name_columns), "soft");
      line(128, y - 3, 138, y - 3, thin_line);
      line(138, y - 3, middle - outside, down(at + piece.length_mm / 2), thin_line);
    });
  }

  [[nodiscard]] double across(double c) const {
    return plot_left + (plot_right - plot_left) * (c - low_c_) / (high_c_ - low_c_);
  }

  void curve(melt::BarrierState const& state, std::string_view style) {
    std::string points;
    for (melt::BarrierPoint const& point : state.temperatures)
      points += fmt::format("{:.2f},{:.2f} ", across(point.temperature_c), down(point.at_mm));
    out_(fmt::format("<polyline points=\"{}\" style=\"fill:none;{}\"/>\n", points, style));
  }

  void temperatures(report::BarrierPage const& page) {
    double const cold = std::min(page.barrier.cold_end_c, page.barrier.hot_end_c);
    double const hot = std::max(page.barrier.cold_end_c, page.barrier.hot_end_c);
    double const step = round_step(std::max(hot - cold, 1.0), 3);
    low_c_ = step * std::floor(cold / step);
    high_c_ = std::max(step * std::ceil(hot / step), low_c_ + step);
    double const end = down(length_mm_);
    for (double c = low_c_; c < high_c_ + step / 2; c += step) {
      line(across(c), top, across(c), end, "stroke:var(--line)");
      text(across(c), top - 6, "middle", report::number(c, 0), "soft");
    }
    text((plot_left + plot_right) / 2, top - 22, "middle", "temperature, °C", "soft");
    line(across(page.barrier.softens_c), top, across(page.barrier.softens_c), end, dashed_line);
    curve(page.resting, "stroke:var(--accent);stroke-dasharray:5 3");
    curve(page.working, "stroke:var(--accent);stroke-width:2");
    double const x = across(page.barrier.hot_end_c);
    line(x, down(tube_mm_), x, end, "stroke:var(--accent);stroke-width:2");
    text(plot_right,
         end + 14,
         "end",
         fmt::format("softens at {} °C", report::number(page.barrier.softens_c, 0)),
         "soft");
  }

  static constexpr std::string_view thin_line = "stroke:var(--soft);stroke-width:.7";
  static constexpr std::string_view dashed_line = "stroke:var(--mark);stroke-dasharray:4 3";
  Out const& out_;
  BarrelPicture const& picture_;
  std::vector<BarrelLength> pieces_;
  std::vector<double> names_;  // heights
  double length_mm_ = 0, tube_mm_ = 0, scale_ = 1;
  double low_c_ = 0, high_c_ = 1;
};

}  // namespace

void write_barrel(Out const& out, BarrelPicture const& picture) {
  if (picture.barrel.sections.empty()) return;
  out("<figure class=\"barrel\">\n");
  Picture(out, picture).write();
  std::vector<Key> keys = {{"share-1", "melt"}, {"middle", "metal"}};
  if (picture.barrier) {
    keys.push_back(
        {"accent",
         fmt::format("temperature at {:g} mm³/s; dashed at rest; below the tube taken as "
                     "the hot end's",
                     picture.barrier->working.flow_mm3_s)});
    keys.push_back({"mark", "where granules soften"});
  }
  write_keys(out, keys);
  out("</figure>\n");
}

}  // namespace meltlag::page
