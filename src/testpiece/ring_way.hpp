// SPDX-License-Identifier: MIT
// The head's way over the rings, as one length.
#pragma once

#include <vector>

#include "meltlag/base/vec.hpp"

namespace meltlag::testpiece::rings {

inline constexpr double sagitta_mm = 0.01;  // of the chords that a ring is printed in

struct Ring {
  double radius_mm = 0;
  double start_rad = 0, sweep_rad = 0;  // anticlockwise
  double from_mm = 0, to_mm = 0;        // on the way; the radial step to the next ring follows
};

// A point where the way may be cut: a chord's end, or the end of a ring or of a radial step.
struct Corner {
  double at_mm = 0;
  Vec3 place;          // from the rings' centre
  int ring = 0;        // from 1; a radial step belongs to the ring that it leaves
  bool joins = false;  // its chord is a radial step
};

class Way {
 public:
  // Rings of these radii, the first one beginning at the right (+X).
  explicit Way(std::vector<double> const& radii_mm);

  [[nodiscard]] double length_mm() const { return rings_.back().to_mm; }
  [[nodiscard]] std::vector<Ring> const& rings() const { return rings_; }
  [[nodiscard]] Vec3 at(double way_mm) const;
  [[nodiscard]] int ring_at(double way_mm) const;  // from 1
  // Corners beyond `from_mm`, up to and with `to_mm`.
  [[nodiscard]] std::vector<Corner> corners(double from_mm, double to_mm) const;
  // `way_mm`, or the end of `clear_mm` after a radial step that lies too near.
  [[nodiscard]] double clear_of_joins(double way_mm, double clear_mm) const;

 private:
  [[nodiscard]] Vec3 on_ring(Ring const& ring, double way_mm) const;

  std::vector<Ring> rings_;
};

// From `largest_mm` inward, ring_pitch_mm apart, none below smallest_ring_mm.
[[nodiscard]] std::vector<double> radii_from(double largest_mm);

}  // namespace meltlag::testpiece::rings
