// SPDX-License-Identifier: MIT
// What a fit of thousands of widths off a picture tells beside the lag.
#pragma once

#include <cstdint>
#include <optional>

namespace meltlag::fit {

struct Value {
  double value = 0, sd = 0;
};

// What bursts of the ring piece tell: the flow q that the screw feeds for long and the store b of
// melt that stands ready (melt/supply.hpp).
struct BurstOutcome {
  // Bursts came out thinner than on a screw that feeds all. Where they did not, nothing is told: q
  // may be above, or the store suffice.
  bool starves = false;
  Value max_flow_mm3_s;              // q, where it starves
  double asked_mm3_s = 0;            // delivered flow of the bursts
  double longest_mm3 = 0;            // what the longest burst asks for above q
  Value burst_mm3;                   // b, where it starves
  double low_mm3 = 0, high_mm3 = 0;  // 95 of 100 within
  enum class Store : std::uint8_t {
    told,
    none_seen,
    at_least,
    cannot_tell
  } store = Store::cannot_tell;
};

// What the feed does with each turn of the screw, from widths off a picture.
struct TurnPulse {
  double e_mm_per_turn = 0;
  Value share;              // of the flow, up and down
  double most_at_turn = 0;  // where in the turn (0 … 1, E = 0 at the file's start) it feeds most
  double chance = 1;        // that a feed without it looks so (F-test)
};

// What a fit of thousands of widths off a picture finds beside the lag.
struct DenseOutcome {
  Value height_mm;                          // of the layer, in the rings' middle
  Value slope_x_mm, slope_y_mm, bow_mm;     // of it, 90 mm further out
  Value edge_offset_mm;                     // of every width, by light and threshold
  Value shade_mm;                           // greatest departure of that with the direction
  double wander_mm = 0;                     // sd of what wanders along the path in widths
  double alike_over_mm = 0;                 // of path: it is alike so far
  double wander_share = 0;                  // the same of the bead's section …
  double alike_over_s = 0;                  // … and in time, at the print's mean speed
  int left_out = 0;                         // rows: purge, lead-in and bursts
  std::optional<BurstOutcome> bursts = {};  // where the print has some that can be read
  std::optional<TurnPulse> pulse = {};      // where E per turn is known
};

}  // namespace meltlag::fit
