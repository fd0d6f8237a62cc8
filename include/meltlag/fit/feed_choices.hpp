// SPDX-License-Identifier: MIT
// What fewer and longer cups cost: time and presses against the ± of what they tell.
#pragma once

#include <vector>

#include "meltlag/testpiece/feed.hpp"

namespace meltlag::fit {

struct CupChoice {
  int cups_per_flow = 0;
  double cup_s = 0;
  int cups = 0, presses = 0;  // of the printer's button
  double minutes = 0;         // of the screw and the dripping, without the time for hands
  // Of the delivered factor, a share, 95 % of chances. Cups of one feed are taken to scatter by
  // cup_scatter in a minute, and by less in longer ones as 1/√t (common practice, no source); the
  // scale's steps come on top. The smallest scatter of the feed that such cups could see is
  // `visible_scatter`.
  double factor_plus_minus = 0, visible_scatter = 0;
};
inline constexpr double cup_scatter = 0.02;

// The program's own choice first, then fewer and longer cups, each with other worth; the flows are
// those of the program. Empty where it has no cups. REQUIRES: density > 0.
[[nodiscard]] std::vector<CupChoice> cup_choices(testpiece::FeedProgram const& program,
                                                 testpiece::FeedOptions const& options,
                                                 double density_g_cm3);

}  // namespace meltlag::fit
