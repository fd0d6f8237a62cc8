// SPDX-License-Identifier: MIT
#include "meltlag/judge/change.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace meltlag::judge {
namespace {

constexpr double least_e_mm = 1e-5;                 // below the last digit of E
constexpr double much_more = 1.2, much_less = 0.8;  // of E as written

Change change_of_screw(MoveRow const& row) {
  if (row.pieces == 0) return Change::absorbed;
  return row.kept ? Change::kept : Change::other;
}

Change change_of_travel(MoveRow const& row) {
  double const forward = row.e_after_mm - row.e_reverse_after_mm;
  double const reverse = -row.e_reverse_after_mm;
  if (std::max(forward, reverse) < least_e_mm) return row.kept ? Change::kept : Change::travel;
  return forward > reverse ? Change::prime : Change::pre_retract;
}

}  // namespace

Change change_of(MoveRow const& row) {
  if (row.kind == gcode::MoveKind::e_only) return change_of_screw(row);
  if (row.kept) return Change::kept;
  if (row.kind == gcode::MoveKind::travel) return change_of_travel(row);
  if (row.kind == gcode::MoveKind::unprint) return Change::pre_retract;
  if (row.e_after_mm < much_less * row.e_before_mm) return Change::pre_retract;
  return row.e_after_mm > much_more * row.e_before_mm ? Change::prime : Change::steady;
}

std::string_view name_of(Change change) {
  switch (change) {
    case Change::kept:
      return "as written";
    case Change::steady:
      return "steady";
    case Change::prime:
      return "prime";
    case Change::pre_retract:
      return "pre-retract";
    case Change::travel:
      return "travel";
    case Change::absorbed:
      return "absorbed";
    case Change::other:
      return "changed";
  }
  return {};
}

std::string_view name_of(gcode::MoveKind kind) {
  switch (kind) {
    case gcode::MoveKind::travel:
      return "travel";
    case gcode::MoveKind::print:
      return "print";
    case gcode::MoveKind::unprint:
      return "wipe";
    case gcode::MoveKind::e_only:
      return "E only";
  }
  return {};
}

double changed_mm3(MoveRow const& row) {
  return std::abs(row.commanded_after_mm3 - row.commanded_before_mm3);
}

double LayerFinder::height_mm(MoveRow const& row) {
  Vec3 const start_mm = std::exchange(end_mm_, row.end_mm);
  if (row.kind != gcode::MoveKind::print) return 0;
  layers_.take_bead(start_mm, row.end_mm);
  return layers_.climbs() ? 0 : layers_.height_mm();
}

}  // namespace meltlag::judge
