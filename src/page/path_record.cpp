// SPDX-License-Identifier: MIT
#include "meltlag/page/path_record.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::page {
namespace {

using gcode::MoveKind;
using judge::CellRow;
using judge::CellSide;

constexpr double same_place_mm = 1e-4;
constexpr double shortest_rest_s = 2e-4;
constexpr double fallback_height_mm = 0.3;
constexpr std::size_t most_places = 2000;  // before places above each other become one
constexpr std::size_t shown_places = 20;
constexpr double above_each_other_mm = 2;
constexpr double longest_place_mm = 10;
constexpr double least_tolerance = 0.02;
constexpr double tolerance_growth = 1.25;  // from level to level
constexpr double off_growth = 1.6;

PathStretchKind kind_of(MoveKind kind) {
  switch (kind) {
    case MoveKind::travel:
      return PathStretchKind::travel;
    case MoveKind::print:
      return PathStretchKind::print;
    case MoveKind::unprint:
      return PathStretchKind::unprint;
    case MoveKind::e_only:
      return PathStretchKind::e_only;
  }
  return PathStretchKind::travel;
}

StretchSide side_of(CellSide const& side) {
  return {static_cast<float>(side.duration_s),
          static_cast<float>(side.commanded_mm3),
          static_cast<float>(side.got_mm3),
          static_cast<float>(side.run_on_mm3),
          static_cast<float>(side.blob_mm3)};
}

Vec3 end_of(PathStretch const& s) { return {s.x_mm, s.y_mm, s.z_mm}; }

void place_at(PathStretch& stretch, Vec3 end_mm) {
  stretch.x_mm = static_cast<float>(end_mm.x);
  stretch.y_mm = static_cast<float>(end_mm.y);
  stretch.z_mm = static_cast<float>(end_mm.z);
}

bool alike(float a, float a_whole, float b, float b_whole, double tolerance) {
  if (a_whole <= 0 || b_whole <= 0) return a == b;
  return std::abs(a / a_whole - b / b_whole) <= tolerance;
}

// What is laid per wanted volume, and how fast.
bool alike(PathStretch const& a, PathStretch const& b, double tolerance) {
  auto const got_alike = [&](StretchSide const& x, StretchSide const& y) {
    return alike(x.got_mm3, a.wanted_mm3, y.got_mm3, b.wanted_mm3, tolerance) &&
           alike(x.commanded_mm3, a.wanted_mm3, y.commanded_mm3, b.wanted_mm3, 2 * tolerance);
  };
  auto const speed_alike = [&](StretchSide const& x, StretchSide const& y) {
    float const faster = std::max(a.length_mm * y.duration_s, b.length_mm * x.duration_s);
    return std::abs(a.length_mm * y.duration_s - b.length_mm * x.duration_s) <=
           2 * tolerance * faster;
  };
  if (!got_alike(a.before, b.before) || !got_alike(a.after, b.after)) return false;
  if (!speed_alike(a.before, b.before) || !speed_alike(a.after, b.after)) return false;
  float const a_section = a.wanted_mm3 * b.length_mm, b_section = b.wanted_mm3 * a.length_mm;
  return std::abs(a_section - b_section) <= tolerance * std::max(a_section, b_section);
}

// How far `middle` lies off the way from `start` to `end`.
double off_way(Vec3 start, Vec3 middle, Vec3 end) {
  Vec3 const way = end - start, gone = middle - start;
  double const length2 = dot(way, way);
  double const share = length2 > 0 ? std::clamp(dot(gone, way) / length2, 0.0, 1.0) : 0;
  return norm(gone - share * way);
}

void join_side(StretchSide& to, StretchSide const& from) {
  to.duration_s += from.duration_s;
  to.commanded_mm3 += from.commanded_mm3;
  to.got_mm3 += from.got_mm3;
  to.run_on_mm3 = from.run_on_mm3;
  to.blob_mm3 = from.blob_mm3;
}

bool heavier(WorstPlace const& a, WorstPlace const& b) {
  return std::abs(a.off_mm3) > std::abs(b.off_mm3);
}

bool is_same_place(WorstPlace const& a, WorstPlace const& b) {
  return a.kind == b.kind && a.layer != b.layer &&
         std::hypot(a.at_mm.x - b.at_mm.x, a.at_mm.y - b.at_mm.y) <= above_each_other_mm;
}

}  // namespace

void PathRecord::on_cell(CellRow const& cell) {
  if (cell.kind == MoveKind::print) find_layer(cell);
  rest_until(cell);
  if (cell.kind == MoveKind::print) {
    if (cell.starts_run) late_before_ = late_after_ = true;
    late_before_ = late_before_ && cell.before.got_mm3 < cell.wanted_mm3 / 2;
    late_after_ = late_after_ && cell.after.got_mm3 < cell.wanted_mm3 / 2;
  } else {
    late_before_ = late_after_ = false;
  }
  weigh(cell);
  PathStretch stretch;
  stretch.kind = kind_of(cell.kind);
  stretch.line = static_cast<std::uint32_t>(cell.line);
  stretch.layer = layers_.empty() ? 0 : static_cast<std::uint32_t>(layers_.size() - 1);
  stretch.length_mm = static_cast<float>(cell.length_mm);
  stretch.wanted_mm3 = static_cast<float>(cell.wanted_mm3);
  stretch.before = side_of(cell.before);
  stretch.after = side_of(cell.after);
  stretch.late_before = late_before_;
  stretch.late_after = late_after_;
  place_at(stretch, cell.end_mm);
  add(stretch);
  end_mm_ = cell.end_mm;
}

// What lies between cells in time or place: waits, and numbers that jump.
void PathRecord::rest_until(CellRow const& cell) {
  bool const jumps = end_known_ && norm(cell.start_mm - end_mm_) > same_place_mm;
  double const before_s = cell.before.duration_s > 0 ? cell.before.start_s - end_before_s_ : 0;
  double const after_s = cell.after.duration_s > 0 ? cell.after.start_s - end_after_s_ : 0;
  if (!end_known_ || jumps || before_s > shortest_rest_s || after_s > shortest_rest_s) {
    PathStretch rest;
    rest.kind = PathStretchKind::rest;
    rest.line = static_cast<std::uint32_t>(cell.line);
    rest.layer = layers_.empty() ? 0 : static_cast<std::uint32_t>(layers_.size() - 1);
    rest.before.duration_s = static_cast<float>(std::max(0.0, before_s));
    rest.after.duration_s = static_cast<float>(std::max(0.0, after_s));
    if (!stretches_.empty()) {
      rest.before.run_on_mm3 = stretches_.back().before.run_on_mm3;
      rest.after.run_on_mm3 = stretches_.back().after.run_on_mm3;
    }
    place_at(rest, cell.start_mm);
    add(rest);
  }
  end_known_ = true;
  if (cell.before.duration_s > 0) end_before_s_ = cell.before.start_s + cell.before.duration_s;
  if (cell.after.duration_s > 0) end_after_s_ = cell.after.start_s + cell.after.duration_s;
}

void PathRecord::find_layer(CellRow const& cell) {
  if (counter_.take_bead(cell.start_mm, cell.end_mm)) {
    double const last = layers_.empty() ? fallback_height_mm : layers_.back().height_mm;
    layers_.push_back({.z_mm = cell.end_mm.z, .height_mm = last, .line = cell.line});
  }
  if (counter_.height_mm() > 0) layers_.back().height_mm = counter_.height_mm();
  gcode::BeadBox box;
  box.take(cell.start_mm);
  box.take(cell.end_mm);
  purge_lines_.take(
      {.line = cell.line, .box = box, .volume_mm3 = cell.wanted_mm3, .layer = counter_.count()});
}

void PathRecord::add(PathStretch const& stretch) {
  if (!stretches_.empty()) {
    if (try_join(stretches_.back(), stretch, last_start_)) return;
    last_start_ = end_of(stretches_.back());
  }
  stretches_.push_back(stretch);
  if (stretches_.size() > most_) coarsen();
}

bool PathRecord::try_join(PathStretch& last, PathStretch const& next, Vec3 last_start) const {
  constexpr double least_off_mm = 0.01;
  bool const moves = next.kind == PathStretchKind::print || next.kind == PathStretchKind::travel;
  if (!moves || last.kind != next.kind || last.layer != next.layer) return false;
  if (last.late_before != next.late_before || last.late_after != next.late_after) return false;
  if (last.before.blob_mm3 > 0 || last.after.blob_mm3 > 0) return false;
  if (last.line != next.line && level_ == 0) return false;
  double const off_mm = least_off_mm * std::pow(off_growth, level_);
  if (!alike(last, next, tolerance())) return false;
  if (off_way(last_start, end_of(last), end_of(next)) > off_mm) return false;
  place_at(last, end_of(next));
  last.length_mm += next.length_mm;
  last.wanted_mm3 += next.wanted_mm3;
  join_side(last.before, next.before);
  join_side(last.after, next.after);
  return true;
}

double PathRecord::tolerance() const {
  return least_tolerance * std::pow(tolerance_growth, level_);
}

void PathRecord::coarsen() {
  constexpr int last_level = 24;
  while (stretches_.size() > most_ - most_ / 4 && level_ < last_level) {
    ++level_;
    std::size_t kept = 0;
    Vec3 start;
    for (std::size_t i = 1; i < stretches_.size(); ++i) {
      if (try_join(stretches_[kept], stretches_[i], start)) continue;
      start = end_of(stretches_[kept]);
      stretches_[++kept] = stretches_[i];
    }
    stretches_.resize(kept + 1);
    last_start_ = start;
  }
}

void PathRecord::weigh(CellRow const& cell) {
  double const off = cell.after.got_mm3 - cell.wanted_mm3;
  if (!layers_.empty()) {
    RecordedLayer& layer = layers_.back();
    layer.wanted_mm3 += cell.wanted_mm3;
    layer.misplaced_before_mm3 += std::abs(cell.before.got_mm3 - cell.wanted_mm3);
    layer.misplaced_after_mm3 += std::abs(off);
  }
  if (cell.kind == MoveKind::e_only) return;
  bool const prints = cell.kind == MoveKind::print;
  auto const kind = !prints       ? WorstPlaceKind::string
                    : late_after_ ? WorstPlaceKind::gap
                    : off > 0     ? WorstPlaceKind::thick
                                  : WorstPlaceKind::thin;
  if (kind != place_.kind || cell.starts_run || place_.length_mm > longest_place_mm) end_place();
  place_.kind = kind;
  place_.off_mm3 += off;
  place_.wanted_mm3 += cell.wanted_mm3;
  place_.length_mm += cell.length_mm;
  if (kind == WorstPlaceKind::gap) place_.gap_mm += cell.length_mm;
  if (place_.line == 0 || std::abs(off) > std::abs(place_.cell_off_mm3)) {
    place_.cell_off_mm3 = off;
    place_.line = cell.line;
    place_.at_s = cell.after.start_s;
    place_.layer = layers_.empty() ? 0 : layers_.size() - 1;
    place_.at_mm = cell.end_mm;
  }
  if (cell.after.blob_mm3 > 0) {
    place_.blob_mm3 = cell.after.blob_mm3;
    place_.at_mm = cell.end_mm;
    if (kind == WorstPlaceKind::thick) place_.kind = WorstPlaceKind::blob;
    end_place();
  }
}

void PathRecord::end_place() {
  WorstPlace const place = place_;
  place_ = {};
  if (place.line == 0 || place.off_mm3 == 0) return;
  if (worst_.size() == most_places && !heavier(place, worst_.front())) return;
  if (worst_.size() == most_places) {
    std::pop_heap(worst_.begin(), worst_.end(), heavier);
    worst_.pop_back();
  }
  worst_.push_back(place);
  std::push_heap(worst_.begin(), worst_.end(), heavier);
}

void PathRecord::finish() {
  end_place();
  std::erase_if(worst_, [last = purge_lines_.purge_line().last_line](WorstPlace const& place) {
    return place.line <= last;
  });
  std::sort(worst_.begin(), worst_.end(), heavier);
  std::vector<WorstPlace> grouped;
  for (WorstPlace& place : worst_) {
    place.first_layer = place.last_layer = place.layer;
    auto const same = std::ranges::find_if(
        grouped, [&](WorstPlace const& other) { return is_same_place(other, place); });
    if (same == grouped.end()) {
      grouped.push_back(place);
      continue;
    }
    ++same->times;
    same->first_layer = std::min(same->first_layer, place.layer);
    same->last_layer = std::max(same->last_layer, place.layer);
  }
  if (grouped.size() > shown_places) grouped.resize(shown_places);
  worst_ = std::move(grouped);
}

}  // namespace meltlag::page
