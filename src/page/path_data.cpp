// SPDX-License-Identifier: MIT
#include "path_data.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "meltlag/page/html_data.hpp"

namespace meltlag::page {
namespace {

// Multiples that values are rounded to. Cells last some milliseconds: flows need tenths of them.
constexpr double place_unit_mm = 0.002;
constexpr double time_unit_s = 5e-5;
constexpr double section_unit_mm2 = 5e-4;
constexpr double share_unit = 0.004;
constexpr double volume_unit_mm3 = 0.001;
constexpr double run_on_steps = 2000;  // from nothing to the peak

bool prints(PathStretch const& s) { return s.kind == PathStretchKind::print && s.wanted_mm3 > 0; }

template <class Value>
void write_column(
    Out const& out, PathRecord const& path, std::string_view id, double unit, Value value) {
  ColumnWriter column(out, id, unit);
  for (PathStretch const& stretch : path.stretches()) column.add(value(stretch));
  column.finish();
}

// Beads as shares of what is wanted, everything else as volumes: both change little from one to the
// next.
template <class Value>
void write_volumes(Out const& out, PathRecord const& path, std::string const& id, Value value) {
  ColumnWriter shares(out, id + "-bead", share_unit);
  for (PathStretch const& s : path.stretches()) {
    if (prints(s)) shares.add(value(s) / s.wanted_mm3);
  }
  shares.finish();
  ColumnWriter volumes(out, id + "-else", volume_unit_mm3);
  for (PathStretch const& s : path.stretches()) {
    if (!prints(s)) volumes.add(value(s));
  }
  volumes.finish();
}

void write_side(Out const& out,
                PathRecord const& path,
                std::string const& name,
                StretchSide PathStretch::*side) {
  write_volumes(out, path, name + "-got", [&](PathStretch const& s) { return (s.*side).got_mm3; });
  write_volumes(
      out, path, name + "-screw", [&](PathStretch const& s) { return (s.*side).commanded_mm3; });
  float peak = 1e-6f;
  for (PathStretch const& s : path.stretches()) peak = std::max(peak, (s.*side).run_on_mm3);
  write_column(out, path, name + "-run-on", peak / run_on_steps, [&](PathStretch const& s) {
    return (s.*side).run_on_mm3;
  });
  ColumnWriter places(out, name + "-blob-at", 1);
  for (std::size_t i = 0; i < path.stretches().size(); ++i) {
    if ((path.stretches()[i].*side).blob_mm3 > 0) places.add(static_cast<double>(i));
  }
  places.finish();
  ColumnWriter blobs(out, name + "-blob", volume_unit_mm3);
  for (PathStretch const& s : path.stretches()) {
    if ((s.*side).blob_mm3 > 0) blobs.add((s.*side).blob_mm3);
  }
  blobs.finish();
}

// Times since the beginning; the adapted file's as what they differ from the original's.
void write_times(Out const& out, PathRecord const& path, Files files) {
  double before_s = 0, after_s = 0;
  write_column(out, path, "p-time", time_unit_s, [&](PathStretch const& s) {
    return before_s += s.before.duration_s;
  });
  if (files == Files::one) return;
  before_s = 0;
  write_column(out, path, "p-time-off", time_unit_s, [&](PathStretch const& s) {
    before_s += s.before.duration_s;
    after_s += s.after.duration_s;
    return after_s - before_s;
  });
}

std::string_view name_of(WorstPlaceKind kind) {
  switch (kind) {
    case WorstPlaceKind::thick:
      return "bead too thick";
    case WorstPlaceKind::thin:
      return "bead too thin";
    case WorstPlaceKind::blob:
      return "blob";
    case WorstPlaceKind::gap:
      return "gap";
    case WorstPlaceKind::string:
      return "string on a travel";
  }
  return {};
}

nlohmann::json layers_json(PathRecord const& path) {
  nlohmann::json out = nlohmann::json::array();
  for (RecordedLayer const& layer : path.layers()) {
    out.push_back({layer.z_mm,
                   layer.height_mm,
                   layer.line,
                   layer.wanted_mm3,
                   layer.misplaced_before_mm3,
                   layer.misplaced_after_mm3});
  }
  return out;
}

nlohmann::json worst_json(PathRecord const& path) {
  nlohmann::json out = nlohmann::json::array();
  for (WorstPlace const& place : path.worst()) {
    out.push_back({{"what", name_of(place.kind)},
                   {"off_mm3", place.off_mm3},
                   {"wanted_mm3", place.wanted_mm3},
                   {"length_mm", place.length_mm},
                   {"blob_mm3", place.blob_mm3},
                   {"blob_ball_mm", ball_diameter(place.blob_mm3)},
                   {"gap_mm", place.gap_mm},
                   {"line", place.line},
                   {"at_s", place.at_s},
                   {"layer", place.layer},
                   {"times", place.times},
                   {"first_layer", place.first_layer},
                   {"last_layer", place.last_layer},
                   {"x_mm", place.at_mm.x},
                   {"y_mm", place.at_mm.y},
                   {"where", where_on_bed(path.beads(), place.at_mm)}});
  }
  return out;
}

// 0, 1 or 2: which third `value` is in.
std::size_t third(double low, double high, double value) {
  double const share = high > low ? (value - low) / (high - low) : 0.5;
  return share < 1.0 / 3 ? 0 : share <= 2.0 / 3 ? 1 : 2;
}

}  // namespace

std::string where_on_bed(gcode::BeadBox const& beads, Vec3 at_mm) {
  constexpr std::array<std::string_view, 3> deep = {"front", "middle", "back"};
  constexpr std::array<std::string_view, 3> wide = {"left", "centre", "right"};
  std::size_t const y = third(beads.low_y_mm, beads.high_y_mm, at_mm.y);
  std::size_t const x = third(beads.low_x_mm, beads.high_x_mm, at_mm.x);
  if (x == 1 && y == 1) return "centre";
  return fmt::format("{} {}", deep[y], wide[x]);
}

void write_path_data(Out const& out, PathRecord const& path, Files files) {
  write_column(out, path, "p-line", 1, [](PathStretch const& s) { return s.line; });
  write_column(out, path, "p-layer", 1, [](PathStretch const& s) { return s.layer; });
  write_column(out, path, "p-kind", 1, [](PathStretch const& s) {
    return static_cast<int>(s.kind) + (s.late_before ? 8 : 0) + (s.late_after ? 16 : 0);
  });
  write_column(out, path, "p-x", place_unit_mm, [](PathStretch const& s) { return s.x_mm; });
  write_column(out, path, "p-y", place_unit_mm, [](PathStretch const& s) { return s.y_mm; });
  write_column(out, path, "p-z", place_unit_mm, [](PathStretch const& s) { return s.z_mm; });
  ColumnWriter sections(out, "p-section", section_unit_mm2);
  for (PathStretch const& s : path.stretches()) {
    if (prints(s)) sections.add(s.wanted_mm3 / s.length_mm);
  }
  sections.finish();
  write_times(out, path, files);
  write_side(out, path, "before", &PathStretch::before);
  if (files == Files::two) write_side(out, path, "after", &PathStretch::after);
  nlohmann::json const rest = {
      {"two", files == Files::two}, {"layers", layers_json(path)}, {"worst", worst_json(path)}};
  write_json(out, "p-rest", rest);
}

}  // namespace meltlag::page
