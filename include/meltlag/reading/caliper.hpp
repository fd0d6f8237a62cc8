// SPDX-License-Identifier: MIT
// What calipers see of a bead, for all that predict it: a mean over their jaw, about the place that
// they were put to.
#pragma once

#include "meltlag/gcode/move.hpp"

namespace meltlag::reading {

// Of the head's way.
struct WayRange {
  double from_mm = 0, to_mm = 0;
  [[nodiscard]] double length_mm() const { return to_mm - from_mm; }
};

// Whether the second of two moves goes on where the first ended, in about its direction, so that a
// jaw may lie on both: a ring's chords turn by less than 10 degrees, corners by more. Arcs do not.
[[nodiscard]] bool goes_on(gcode::Move const& before, gcode::Move const& after);

// What a jaw about `at_mm` touches of a straight: the part of it that lies there; where that is
// less than a quarter of the jaw, this quarter at the nearer end, or all of a straight that is
// shorter.
[[nodiscard]] WayRange jaw_range(WayRange const& straight, double at_mm, double jaw_mm);

// Width of a bead, mm, going on smoothly where nothing lies (melt/bead.hpp).
[[nodiscard]] double bead_width_mm(double section_mm2, double height_mm);

// Where calipers stand wrong by their place error, the width is that of another place: its mean is
// shifted by half the bend, its variance is slope² + bend²/2, both over the place error.
struct WidthsAround {
  double before_mm, here_mm, behind_mm;  // off by the place error, right, off by it again
};
struct SeenWidth {
  double value_mm, place_sd_mm;
  double slope_mm;  // over the place error
};
[[nodiscard]] SeenWidth seen_width(WidthsAround const& widths);

}  // namespace meltlag::reading
