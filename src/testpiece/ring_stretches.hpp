// SPDX-License-Identifier: MIT
// What happens along the rings, in which order.
#pragma once

#include <string>
#include <vector>

#include "test_piece_fence.hpp"

namespace meltlag::testpiece::rings {

// Stretches that belong together, after a link at the medium speed.
struct Passage {
  std::string group;
  int copy = 0;
  std::vector<piece::WallStretch> stretches;
  [[nodiscard]] double length_mm() const;
};

inline constexpr double link_mm = 30;

// The groups of one copy, shuffled, steady stretches among them.
[[nodiscard]] std::vector<Passage> copy_of_groups(int copy,
                                                  std::uint32_t seed,
                                                  piece::Speeds const& speeds,
                                                  piece::Bead const& bead);

// Stretches of rising length at `burst_share` of the flow that the screw gives for long; empty
// where X, Y or E cannot go so fast.
inline constexpr double burst_share = 1.3;
[[nodiscard]] Passage bursts(double max_flow_mm3_s,
                             PieceOptions const& options,
                             piece::Speeds const& speeds,
                             piece::Bead const& bead);

inline constexpr double turns_at_rest = 5;  // of the screw, at one speed
[[nodiscard]] Passage turns(double e_mm_per_turn,
                            piece::Speeds const& speeds,
                            piece::Bead const& bead);

}  // namespace meltlag::testpiece::rings
