// SPDX-License-Identifier: MIT
// What is purge and not part, for all that ask: plastic that the screw gives while the head stands,
// and lines on the bed before the part begins.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <vector>

#include "meltlag/gcode/layers.hpp"
#include "meltlag/gcode/move.hpp"

namespace meltlag::gcode {

// E drawn back, by moves of E alone or on the way, is a debt that moves of E alone repay. What one
// gives beyond that is a restart extra up to 1 mm³ or 5 % of what it repays, whichever is more;
// above it is purge.
class PurgeCounter {
 public:
  // What the next move purges; 0: it does not.
  [[nodiscard]] double purged_mm3(Move const& move);

 private:
  double debt_mm3_ = 0;
};

// From above.
struct BeadBox {
  double low_x_mm = std::numeric_limits<double>::infinity(), low_y_mm = low_x_mm;
  double high_x_mm = -low_x_mm, high_y_mm = -low_x_mm;

  void take(Vec3 at_mm);
  void take(BeadBox const& other);
  // Of a move in machine coordinates, an arc's bulge told to 0.2 % of its radius.
  [[nodiscard]] static BeadBox of(Move const& move);
  [[nodiscard]] bool empty() const { return !(low_x_mm <= high_x_mm); }
};

// Beads before the part that are no part of it.
struct PurgeLine {
  std::int64_t last_line = 0;  // of the file; 0: there is none
  double volume_mm3 = 0;       // of E as written
  double way_mm = 0;           // of the head up to the first bead behind
};

// Finds them: the first beads, where all that follow lie more than 3 mm to one side of them. Of a
// part of one layer nothing can be told.
class PurgeLineFinder {
 public:
  struct Bead {
    std::int64_t line = 0;
    BeadBox box = {};
    double volume_mm3 = 0;
    double way_mm = 0;       // of the head up to its start, where it matters
    std::int64_t layer = 1;  // as LayerCounter counts
  };
  void take(Bead const& bead);
  // Takes the moves in order, in machine coordinates.
  void take(Move const& move);
  // Of all moves taken.
  [[nodiscard]] PurgeLine purge_line() const;
  // Of all beads but the purge line.
  [[nodiscard]] BeadBox part() const;

 private:
  struct Candidate {
    PurgeLine line;
    BeadBox before, behind;
    std::array<bool, 4> aside{true, true, true, true};  // -x, +x, -y, +y
  };
  [[nodiscard]] Candidate const* found() const;

  LayerCounter layers_;
  std::int64_t last_layer_ = 0;
  double volume_mm3_ = 0, way_mm_ = 0;
  BeadBox all_;
  std::vector<Candidate> candidates_;  // each longer than the one before it
};

}  // namespace meltlag::gcode
