// SPDX-License-Identifier: MIT
#include "runs.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "along.hpp"

namespace meltlag::scan {
namespace {

constexpr double before_mm = 3;  // of bead, whose width is taken for the whole
constexpr double behind_from_mm = 8, behind_to_mm = 14;
constexpr double shortest_run_mm = 8;                  // of way that the screw stands
constexpr double blob_reach_mm = 3, blob_side_mm = 4;  // around a place, and beside that
constexpr double least_blob_mm2 = 0.05;

std::optional<double> usual_width(std::vector<Width> const& widths, double from_mm, double to_mm) {
  auto const from =
      std::lower_bound(widths.begin(), widths.end(), from_mm, [](Width const& w, double at) {
        return w.way_mm < at;
      });
  std::vector<double> known;
  for (auto w = from; w != widths.end() && w->way_mm < to_mm; ++w)
    if (w->doubt == Doubt::none) known.push_back(w->width_mm);
  if (known.size() < 5) return {};
  return median_of(known);
}

// Not known whether something lies there.
bool is_hidden(Width const& width) {
  return width.doubt == Doubt::off_picture || width.doubt == Doubt::aside ||
         width.doubt == Doubt::touches;
}

}  // namespace

std::vector<Run> find_runs(Trail const& trail, std::vector<Width> const& widths) {
  std::vector<Run> out;
  for (Dry const& dry : trail.dry) {
    if (dry.from == 0 || dry.to >= widths.size()) continue;
    double const stop = widths[dry.from].way_mm, start = widths[dry.to].way_mm;
    if (start - stop < shortest_run_mm) continue;
    Run run{.stop_line = widths[dry.from].line,
            .start_line = widths[dry.to].line,
            .ring = widths[dry.from].ring};
    if (auto const whole = usual_width(widths, stop - before_mm - 0.5, stop - 0.5)) {
      std::size_t i = dry.from;
      while (i < dry.to && widths[i].width_mm > *whole / 2 && !is_hidden(widths[i])) ++i;
      run.tail_mm = widths[std::min(i, dry.to - 1)].way_mm - stop;
      run.tail_known = i < dry.to && !is_hidden(widths[i]);
    }
    if (auto const whole = usual_width(widths, start + behind_from_mm, start + behind_to_mm)) {
      std::size_t i = dry.to;
      while (i < widths.size() && widths[i].width_mm < *whole / 2 && !is_hidden(widths[i])) ++i;
      run.gap_known = i < widths.size() && !is_hidden(widths[i]);
      if (run.gap_known) run.gap_mm = widths[i].way_mm - start;
    }
    out.push_back(run);
  }
  return out;
}

std::vector<Blob> find_blobs(Trail const& trail, std::vector<Width> const& widths) {
  std::vector<Blob> out;
  for (std::size_t i = 1; i + 1 < widths.size(); ++i) {
    double const to = trail.points[i].to_turn_mm;
    bool const here = to < trail_step_mm && to <= trail.points[i - 1].to_turn_mm &&
                      to < trail.points[i + 1].to_turn_mm;
    if (!here) continue;
    double const way = widths[i].way_mm;
    auto const before =
        usual_width(widths, way - blob_reach_mm - blob_side_mm, way - blob_reach_mm);
    auto const behind =
        usual_width(widths, way + blob_reach_mm, way + blob_reach_mm + blob_side_mm);
    if (!before && !behind) continue;
    double const whole =
        before && behind ? (*before + *behind) / 2 : before.value_or(behind.value_or(0));
    double area = 0;
    for (Width const& width : widths)
      if (std::abs(width.way_mm - way) < blob_reach_mm)
        area += std::max(0.0, width.width_mm - whole) * trail_step_mm;
    if (area > least_blob_mm2)
      out.push_back({.line = widths[i].line, .ring = widths[i].ring, .area_mm2 = area});
  }
  return out;
}

}  // namespace meltlag::scan
