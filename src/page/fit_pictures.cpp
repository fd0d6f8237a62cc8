// SPDX-License-Identifier: MIT
#include "fit_pictures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <map>
#include <numbers>

#include "drawing.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double least_counted = 0.1;  // by the robust loss: below it a reading is left out
constexpr double two_sided_95 = 1.96;

// The piece from above -----------------------------------------------------------------------

// What a place is off by, as five classes and one for what is left out.
constexpr double slightly_mm = 0.02, clearly_mm = 0.05;

constexpr std::array<char const*, 6> off_colours = {
    "thin", "slim", "middle", "stout", "thick", "mark"};

void write_off_keys(Out const& out) {
  write_keys(out,
             {{off_colours[0], "narrower by more than 0.05 mm"},
              {off_colours[1], "by 0.02 to 0.05"},
              {off_colours[2], "as the fit says"},
              {off_colours[3], "wider by 0.02 to 0.05"},
              {off_colours[4], "by more"},
              {off_colours[5], "left out"},
              {"line", "not read"}});
}

std::size_t class_of(fit::RowOutcome const& row) {
  if (row.counted < least_counted) return 5;
  double const off = row.measured - row.predicted;
  if (off < -clearly_mm) return 0;
  if (off < -slightly_mm) return 1;
  if (off <= slightly_mm) return 2;
  return off <= clearly_mm ? 3 : 4;
}

struct Bounds {
  double left = 1e9, right = -1e9, front = 1e9, back = -1e9;
  void take(Vec3 const& at) {
    left = std::min(left, at.x);
    right = std::max(right, at.x);
    front = std::min(front, at.y);
    back = std::max(back, at.y);
  }
};

bool lays_plastic(reading::PathMove const& move) {
  return move.length_mm() > 0 && move.timed.move.e_mm > 0;
}

// One path element for all beads: a move straight on, an arc as chords.
std::string beads_of(reading::PrintedPath const& path, Bounds& bounds) {
  constexpr double chord_mm = 2;
  std::string d;
  for (reading::PathMove const& move : path.moves) {
    if (!lays_plastic(move)) continue;
    double const length = move.length_mm();
    bool const bends = move.timed.move.arc.radius_mm > 0;
    int const chords = bends ? std::max(1, static_cast<int>(std::ceil(length / chord_mm))) : 1;
    for (int i = 0; i <= chords; ++i) {
      Vec3 const at = gcode::point_at(move.timed.move, length * i / chords);
      bounds.take(at);
      fmt::format_to(std::back_inserter(d), "{}{:.2f} {:.2f}", i == 0 ? "M" : "L", at.x, -at.y);
    }
  }
  return d;
}

// From the middle of the row's bead to both sides; as long as calipers are wide where it is of one
// place.
std::string stroke_of(FittedPlace const& place, reading::PrintedPath const& path) {
  constexpr double least_mm = 3;
  reading::PathMove const& move = path.moves[path.move_of_line.at(place.reading->lines.front())];
  double const half = std::max(least_mm, place.reading->length_mm) / 2;
  double const at = place.reading->at_mm.front();
  Vec3 const a = gcode::point_at(move.timed.move, std::max(0.0, at - half));
  Vec3 const b = gcode::point_at(move.timed.move, std::min(move.length_mm(), at + half));
  return fmt::format("M{:.2f} {:.2f}L{:.2f} {:.2f}", a.x, -a.y, b.x, -b.y);
}

}  // namespace

std::vector<FittedPlace> places_of(FitPage const& page) {
  std::map<int, reading::Reading const*> by_row;
  for (reading::Reading const& reading : page.readings) by_row[reading.row] = &reading;
  std::vector<FittedPlace> out;
  for (fit::RowOutcome const& row : page.fit.rows) {
    auto const found = by_row.find(row.row);
    if (row.kind != reading::ReadingKind::width || found == by_row.end()) continue;
    reading::Reading const& reading = *found->second;
    if (reading.lines.empty()) continue;
    reading::PathMove const& move =
        page.path.moves[page.path.move_of_line.at(reading.lines.front())];
    Vec3 const at = gcode::point_at(move.timed.move, reading.at_mm.front());
    out.push_back({&row, &reading, at.x, at.y});
  }
  return out;
}

void write_piece_picture(Out const& out,
                         FitPage const& page,
                         std::vector<FittedPlace> const& places) {
  Bounds bounds;
  std::string const beads = beads_of(page.path, bounds);
  std::array<std::string, 6> strokes;
  for (FittedPlace const& place : places)
    strokes[class_of(*place.row)] += stroke_of(place, page.path);
  constexpr double margin_mm = 4;
  double const wide = bounds.right - bounds.left + 2 * margin_mm;
  double const high = bounds.back - bounds.front + 2 * margin_mm;
  out("<figure class=\"alone piece\"><figcaption>The piece from above, as it was "
      "read</figcaption>\n");
  out(
      fmt::format("<svg role=\"img\" aria-label=\"The piece from above: where beads are wider or "
                  "narrower than the fit says\" viewBox=\"{:.1f} {:.1f} {:.1f} {:.1f}\">\n",
                  bounds.left - margin_mm,
                  -bounds.back - margin_mm,
                  wide,
                  high));
  out(fmt::format("<path d=\"{}\" style=\"stroke:var(--line);stroke-width:.8\"/>\n", beads));
  for (std::size_t i = 0; i < strokes.size(); ++i)
    if (!strokes[i].empty())
      out(fmt::format("<path d=\"{}\" style=\"stroke:var(--{});stroke-width:1.6\"/>\n",
                      strokes[i],
                      off_colours[i]));
  out("</svg>\n");
  write_off_keys(out);
  out("</figure>\n");
}

// Readings over the fit ----------------------------------------------------------------------

namespace {

struct Curves {
  std::vector<double> x, measured, fitted, plus_minus;
  void add(double at, double read, double says, double sd) {
    x.push_back(at);
    measured.push_back(read);
    fitted.push_back(says);
    plus_minus.push_back(sd);
  }
};

void write_curves(Out const& out,
                  std::string const& id,
                  std::string const& title,
                  std::string const& x_label,
                  Curves const& curves,
                  Stroke fitted) {
  write_chart(
      out,
      {.id = id,
       .title = title,
       .x_label = x_label,
       .y_label = "width, mm",
       .x = curves.x,
       .series = {{.name = "fitted", .role = Role::wanted, .stroke = fitted, .y = curves.fitted},
                  {.name = "measured",
                   .role = Role::measured,
                   .stroke = Stroke::points,
                   .y = curves.measured,
                   .plus_minus = curves.plus_minus}}});
}

// Lines must not bridge what was not read.
void add_gap(Curves& curves, double next_mm, double widest_mm) {
  if (curves.x.empty() || next_mm - curves.x.back() <= widest_mm) return;
  curves.add((curves.x.back() + next_mm) / 2, nan, nan, nan);
}

void write_ring_charts(Out const& out, fit::FitResult const& fit) {
  constexpr double widest_gap_mm = 6;
  std::vector<std::string> rings;
  std::map<std::string, std::vector<fit::RowOutcome const*>> of_ring;
  for (fit::RowOutcome const& row : fit.rows) {
    if (!of_ring.contains(row.trace)) rings.push_back(row.trace);
    of_ring[row.trace].push_back(&row);
  }
  out("<div class=\"panels charts\">\n");
  for (std::string const& ring : rings) {
    auto& rows = of_ring[ring];
    std::ranges::stable_sort(rows, {}, &fit::RowOutcome::ruler_mm);
    Curves curves;
    for (fit::RowOutcome const* row : rows) {
      add_gap(curves, row->ruler_mm, widest_gap_mm);
      curves.add(
          row->ruler_mm, row->counted < least_counted ? nan : row->measured, row->predicted, nan);
    }
    write_curves(out,
                 "ring-" + std::to_string(&ring - rings.data() + 1),
                 "Ring " + ring,
                 "along the ring, mm",
                 curves,
                 Stroke::line);
  }
  out("</div>\n");
}

}  // namespace

void write_readings_charts(Out const& out, FitPage const& page) {
  if (page.fit.dense) return write_ring_charts(out, page.fit);
  std::vector<fit::RowOutcome const*> rows;
  for (fit::RowOutcome const& row : page.fit.rows)
    if (row.kind == reading::ReadingKind::width) rows.push_back(&row);
  std::ranges::stable_sort(rows, {}, &fit::RowOutcome::row);
  Curves curves;
  for (fit::RowOutcome const* row : rows)
    curves.add(row->row, row->measured, row->predicted, row->sd);
  write_curves(
      out, "readings", "Widths measured and fitted", "row of the sheet", curves, Stroke::line);
}

// Scatter ------------------------------------------------------------------------------------

namespace {

constexpr int bins = 16;  // half a ± each, from −4 to 4

// Shares of the readings; empty without any.
std::vector<double> shares_by_off(fit::FitResult const& fit) {
  std::vector<double> shares(bins, 0);
  double readings = 0;
  for (fit::RowOutcome const& row : fit.rows) {
    if (!(row.sd > 0)) continue;
    double const off = (row.measured - row.predicted) / row.sd;
    ++shares[static_cast<std::size_t>(std::clamp((off + 4) * 2, 0.0, bins - 1.0))];
    ++readings;
  }
  if (readings == 0) return {};
  for (double& share : shares) share /= readings;
  return shares;
}

}  // namespace

void write_scatter_picture(Out const& out, fit::FitResult const& fit) {
  constexpr double top = 10, bottom = 150, left = 2, right = 98;
  std::vector<double> const shares = shares_by_off(fit);
  if (shares.empty()) return;
  double most = 0.2;  // the normal curve's own top, half a ± wide
  for (double const share : shares) most = std::max(most, share);
  auto const across = [&](double off) { return left + (right - left) * (off + 4) / 8; };
  auto const down = [&](double share) { return bottom - (bottom - top) * share / most; };
  std::string const title = "How far readings are from the fit, in units of their ±";
  out(fmt::format("<figure class=\"alone\"><figcaption>{}</figcaption>\n", title));
  {
    Drawing drawing(out, title, bottom + 24);
    double const wide = (right - left) / bins;
    for (int i = 0; i < bins; ++i) {
      double const share = shares[static_cast<std::size_t>(i)];
      drawing.box(
          {left + wide * (i + 0.06), down(share)}, {wide * 0.88, bottom - down(share)}, "share-0");
    }
    auto const normal = [](double off) {
      return 0.5 * std::exp(-off * off / 2) / std::sqrt(2 * std::numbers::pi);
    };
    for (double off = -4; off < 3.99; off += 0.25)
      drawing.line({across(off), down(normal(off))},
                   {across(off + 0.25), down(normal(off + 0.25))},
                   "ink",
                   "none",
                   2);
    for (int off = -4; off <= 4; off += 2)
      drawing.text({across(off), bottom + 17}, Anchor::middle, fmt::format("{:+d}", off), "soft");
  }
  write_keys(out, {{"share-0", "readings"}, {"ink", "what chance alone would make"}});
  out("</figure>\n");
}

// The lag ------------------------------------------------------------------------------------

void write_lag_chart(Out const& out, fit::FitResult const& fit) {
  constexpr int points = 60;
  double const low = 0.8 * fit.at_flows.front().flow_mm3_s;
  double const high = 1.15 * fit.at_flows.back().flow_mm3_s;
  std::vector<double> x;
  for (int i = 0; i < points; ++i) x.push_back(low + (high - low) * i / (points - 1.0));
  for (fit::FlowLag const& lag : fit.at_flows) x.push_back(lag.flow_mm3_s);
  std::ranges::sort(x);
  x.erase(std::unique(x.begin(), x.end()), x.end());
  ChartSeries line{.name = "lag", .role = Role::first, .stroke = Stroke::line, .y = {}};
  ChartSeries least{
      .name = "95 of 100: from", .role = Role::first, .stroke = Stroke::dashed, .y = {}};
  ChartSeries most = least;
  most.name = "to";
  ChartSeries three{.name = "± one deviation",
                    .role = Role::measured,
                    .stroke = Stroke::points,
                    .y = std::vector<double>(x.size(), nan),
                    .plus_minus = std::vector<double>(x.size(), nan)};
  for (std::size_t i = 0; i < x.size(); ++i) {
    fit::Value const lag = fit::at_flow(fit, x[i]).lag_s;
    double const times = std::exp(two_sided_95 * lag.sd / lag.value);
    line.y.push_back(lag.value);
    least.y.push_back(lag.value / times);
    most.y.push_back(lag.value * times);
    for (fit::FlowLag const& told : fit.at_flows)
      if (told.flow_mm3_s == x[i]) {
        three.y[i] = told.lag_s.value;
        three.plus_minus[i] = told.lag_s.sd;
      }
  }
  write_chart(out,
              {.id = "lag",
               .title = "Lag over flow",
               .x_label = "flow, mm³/s",
               .y_label = "lag, s",
               .x = x,
               .series = {line, least, most, three}});
}

namespace {

// ln S and n, and what they are drawn on.
class Ellipse {
 public:
  explicit Ellipse(fit::FitResult const& fit)
      : fit_(fit),
        log_sd_(fit.run_on_mm3.sd / fit.run_on_mm3.value),
        log_reach_(std::max(3.2 * log_sd_, 1e-4)),
        index_reach_(std::max(3.2 * fit.flow_index.sd, 1e-4)) {}

  void write(Out const& out) const {
    std::string const title = "Run-on and flow index together";
    out(fmt::format("<figure class=\"alone\"><figcaption>{}</figcaption>\n", title));
    {
      Drawing drawing(out, title, bottom + 40);
      draw_axes(drawing);
      // Two variables: 68 and 95 of 100 lie within the square root of −2 ln(1 − 0.68), …
      draw(drawing, 1.51, "share-0");
      draw(drawing, 2.45, "share-1");
      drawing.dot({across(0), down(0)}, "measured");
    }
    write_keys(
        out,
        {{"measured", "best"}, {"share-0", "68 of 100 within"}, {"share-1", "95 of 100 within"}});
    out("</figure>\n");
  }

 private:
  static constexpr double top = 24, bottom = 250, left = 12, right = 97;

  // Of departures from the best.
  [[nodiscard]] double across(double log_off) const {
    return (left + right) / 2 + (right - left) / 2 * log_off / log_reach_;
  }
  [[nodiscard]] double down(double index_off) const {
    return (top + bottom) / 2 - (bottom - top) / 2 * index_off / index_reach_;
  }

  void draw(Drawing& drawing, double times, char const* colour) const {
    constexpr int chords = 72;
    double const r = fit_.run_on_index_correlation;
    auto const at = [&](int i) -> Drawing::Point {
      double const angle = 2 * std::numbers::pi * i / chords;
      double const u = times * std::cos(angle), v = times * std::sin(angle);
      return {across(log_sd_ * u),
              down(fit_.flow_index.sd * (r * u + std::sqrt(std::max(0.0, 1 - r * r)) * v))};
    };
    for (int i = 0; i < chords; ++i) drawing.line(at(i), at(i + 1), colour, "none", 2);
  }

  void draw_axes(Drawing& drawing) const {
    double const best = fit_.run_on_mm3.value, index = fit_.flow_index.value;
    double const low = best * std::exp(-log_reach_), high = best * std::exp(log_reach_);
    double const step = round_step(high - low, 5);
    for (double tick = std::ceil(low / step) * step; tick <= high; tick += step) {
      double const x = across(std::log(tick / best));
      drawing.line({x, top}, {x, bottom}, "line");
      drawing.text({x, bottom + 17}, Anchor::middle, fmt::format("{:.4g}", tick), "soft");
    }
    double const index_step = round_step(2 * index_reach_, 5);
    double const from = std::ceil((index - index_reach_) / index_step);
    for (double k = from; k * index_step <= index + index_reach_; ++k) {
      double const y = down(k * index_step - index);
      drawing.line({left, y}, {right, y}, "line");
      drawing.text({left - 1.5, y + 4}, Anchor::end, fmt::format("{:.4g}", k * index_step), "soft");
    }
    drawing.text({0, top - 10}, Anchor::start, "flow index", "soft");
    drawing.text({(left + right) / 2, bottom + 35},
                 Anchor::middle,
                 fmt::format("run-on at {} mm³/s, mm³", report::number(fit_.law.at_flow_mm3_s, 2)),
                 "soft");
  }

  fit::FitResult const& fit_;
  double log_sd_, log_reach_, index_reach_;
};

}  // namespace

void write_ellipse(Out const& out, fit::FitResult const& fit) { Ellipse(fit).write(out); }

}  // namespace meltlag::page
