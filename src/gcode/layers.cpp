// SPDX-License-Identifier: MIT
#include "meltlag/gcode/layers.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "meltlag/gcode/tolerances.hpp"

namespace meltlag::gcode {
namespace {

constexpr double one_round_rad = 2 * std::numbers::pi, nearly_rad = 0.01;
constexpr double least_height_mm = 0.01;  // less is no layer's height
constexpr double much_lower = 1.5;        // layer heights: another object's bead

bool is_same_z(double a_mm, double b_mm) { return std::abs(a_mm - b_mm) <= same_z_mm; }

}  // namespace

bool LayerCounter::take(Move const& move) {
  if (move.kind != MoveKind::print) return false;
  return take_bead(move.start_mm + move.origin_mm,
                   move.end_mm + move.origin_mm,
                   move.arc.radius_mm > 0 ? move.arc.sweep_rad : 0);
}

bool LayerCounter::take_bead(Vec3 start_mm, Vec3 end_mm, double sweep_rad) {
  climbs_ = !is_same_z(start_mm.z, end_mm.z);
  // Steeper than any wall: plastic given on a lift or a hop.
  bool const lifts = sweep_rad == 0 && std::abs(end_mm.z - start_mm.z) >
                                           std::hypot(end_mm.x - start_mm.x, end_mm.y - start_mm.y);
  if (lifts) return false;
  // Short beads of a climb may stay level, as Z has few digits.
  bool const goes_on = in_climb_ && is_same_z(start_mm.z, last_z_mm_);
  last_z_mm_ = end_mm.z;
  if (!climbs_ && !goes_on) return begin_level_layer(end_mm.z);
  if (!goes_on) begin_climb(start_mm.z);
  turn(start_mm, end_mm, sweep_rad);
  return climb(end_mm.z, !goes_on);
}

bool LayerCounter::begin_level_layer(double z_mm) {
  in_climb_ = false;
  if (count_ > 0 && is_same_z(z_mm, z_mm_)) return false;
  height_mm_ = std::max(0.0, z_mm - z_mm_);
  if (height_mm_ > 0) level_height_mm_ = height_mm_;
  z_mm_ = z_mm;
  ++count_;
  return true;
}

void LayerCounter::begin_climb(double z_mm) {
  in_climb_ = true;
  climb_from_mm_ = z_mm;
  climb_height_mm_ = level_height_mm_;
  turned_rad_ = way_x_ = way_y_ = 0;
}

bool LayerCounter::climb(double z_mm, bool begins) {
  bool const lower = z_mm < z_mm_ - much_lower * std::max(height_mm_, least_height_mm);
  bool const known = climb_height_mm_ > 0;
  bool const above = z_mm > z_mm_ + same_z_mm && (begins || known);
  if (count_ > 0 && !above && !(begins && lower)) return false;
  double const risen = std::max(0.0, z_mm - climb_from_mm_ - same_z_mm);
  height_mm_ = climb_height_mm_;
  z_mm_ = climb_from_mm_;
  if (known) z_mm_ += climb_height_mm_ * (1 + std::floor(risen / climb_height_mm_));
  ++count_;
  return true;
}

// Outlines are closed: one round of them turns once in all, however it is bent.
void LayerCounter::turn(Vec3 start_mm, Vec3 end_mm, double sweep_rad) {
  double const x = end_mm.x - start_mm.x, y = end_mm.y - start_mm.y;
  if (climb_height_mm_ > 0) return;
  bool const corner = sweep_rad == 0 && (way_x_ != 0 || way_y_ != 0);
  turned_rad_ += corner ? std::atan2(way_x_ * y - way_y_ * x, way_x_ * x + way_y_ * y) : sweep_rad;
  if (x != 0 || y != 0) {
    way_x_ = x;
    way_y_ = y;
  }
  double const risen = (corner ? start_mm.z : end_mm.z) - climb_from_mm_;
  if (std::abs(turned_rad_) < one_round_rad - nearly_rad || risen < least_height_mm) return;
  climb_height_mm_ = height_mm_ = risen;
  z_mm_ = climb_from_mm_ + risen;
}

}  // namespace meltlag::gcode
