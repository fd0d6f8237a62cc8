// SPDX-License-Identifier: MIT
// What a layer is, for all that count layers or ask for their heights.
//
// Beads of one height in a row are a layer. Where beads climb, as the wall of a vase does, a layer
// ends where they have risen by one layer's height: that of the last level layer, else what they
// rise in the first turn of their outline.
#pragma once

#include <cstdint>

#include "meltlag/gcode/move.hpp"

namespace meltlag::gcode {

class LayerCounter {
 public:
  // Takes the moves in order, in machine coordinates; those that print count. True where one begins
  // a layer.
  bool take(Move const& move);
  // The same of a bead, or of a piece of one; an arc turns by `sweep_rad`.
  bool take_bead(Vec3 start_mm, Vec3 end_mm, double sweep_rad = 0);

  [[nodiscard]] std::int64_t count() const { return count_; }  // begun so far
  [[nodiscard]] double z_mm() const { return z_mm_; }          // of the present layer, or its end
  // Of the present layer above the one before, the first above 0; where beads climb what they rise
  // in a layer. 0: not known, as they lie lower than the ones before or have not been around once.
  [[nodiscard]] double height_mm() const { return height_mm_; }
  [[nodiscard]] bool climbs() const { return climbs_; }  // the last bead does

 private:
  bool begin_level_layer(double z_mm);
  void begin_climb(double z_mm);
  bool climb(double z_mm, bool begins);
  void turn(Vec3 start_mm, Vec3 end_mm, double sweep_rad);

  std::int64_t count_ = 0;
  double z_mm_ = 0, height_mm_ = 0;
  double last_z_mm_ = 0;        // of the last bead
  double level_height_mm_ = 0;  // of the last level layer; 0: none yet
  bool climbs_ = false, in_climb_ = false;
  double climb_from_mm_ = 0, climb_height_mm_ = 0;  // 0: not known yet
  double turned_rad_ = 0, way_x_ = 0, way_y_ = 0;   // since the climb began; the last way
};

}  // namespace meltlag::gcode
