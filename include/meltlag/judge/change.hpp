// SPDX-License-Identifier: MIT
// What a move of the original was turned into, in a builder's words.
#pragma once

#include <string_view>

#include "meltlag/gcode/layers.hpp"
#include "meltlag/judge/judge.hpp"

namespace meltlag::judge {

enum class Change : std::uint8_t {
  kept,         // as written
  steady,       // prints, with E near what was written
  prime,        // feeds ahead of a start: more than written at its beginning, or on a travel
  pre_retract,  // feeds less than half of what was written towards its end, or draws back
  travel,       // travels without E, cut or at another feed
  absorbed,     // an E-only move that is no more
  other,        // an E-only move with another E or speed
};
inline constexpr int change_kinds = 7;

[[nodiscard]] Change change_of(MoveRow const& row);
[[nodiscard]] std::string_view name_of(Change change);         // "pre-retract"
[[nodiscard]] std::string_view name_of(gcode::MoveKind kind);  // "print", "wipe", "E only"
// How much the screw does differently on this move, mm³.
[[nodiscard]] double changed_mm3(MoveRow const& row);

// Height of the layer that the beads of rows belong to. Rows in order.
class LayerFinder {
 public:
  // mm; 0 where it is not known: no printing move, or one that climbs.
  [[nodiscard]] double height_mm(MoveRow const& row);

 private:
  Vec3 end_mm_;  // of the last row
  gcode::LayerCounter layers_;
};

}  // namespace meltlag::judge
