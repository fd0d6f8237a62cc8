// SPDX-License-Identifier: MIT
// A sheet of predicted differences that a person ticks off at the printed parts.
#pragma once

#include "meltlag/base/sheet.hpp"
#include "meltlag/compare/scatter.hpp"

namespace meltlag::compare {

struct Ticks {
  HitRate rate;
  std::size_t open = 0;  // rows without a tick
  // Probability of at least so many hits if each were the toss of a coin.
  double by_chance = 1;
};

// Columns `place` and `seen`: yes or no (y, x, 1, ✓; n, -, 0), empty where nobody looked. Throws
// Error for another word, and where nothing is ticked.
[[nodiscard]] Ticks count_ticks(Sheet const& sheet);

// P(at least `hits` of `of`) with probability one half each.
[[nodiscard]] double coin_chance(std::size_t hits, std::size_t of);

}  // namespace meltlag::compare
