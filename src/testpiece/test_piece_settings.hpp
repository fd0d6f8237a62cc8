// SPDX-License-Identifier: MIT
// Speeds and flows of the test piece, chosen and checked against what machine and screw allow.
#pragma once

#include <string>
#include <vector>

#include "meltlag/testpiece/test_piece.hpp"
#include "test_piece_layout.hpp"

namespace meltlag::testpiece::piece {

inline constexpr double lags_of_lead_in = 4;
inline constexpr double part_of_limit = 0.8;  // of max_flow, of an axis' greatest speed
inline constexpr double least_purge_mm3 = 60, run_ons_of_purge = 4;

// Two speeds that a step goes between, mm/s.
struct Pair {
  double low_mm_s, high_mm_s;
};

struct Speeds {
  double slow_mm_s, medium_mm_s, fast_mm_s;
  Pair small, middle;  // steps around the medium speed; the large one is slow → fast
  double lead_in_mm_s = 0;
  double travel_mm_s, lift_mm_s;
  double slowest_mm_s;  // that the printer runs at
  double turn_e_mm_s;   // of E while the head stands
};

struct Bead {
  double width_mm, height_mm;
  double section_mm2;
  double filament_mm2;

  [[nodiscard]] double e_mm_per_mm() const { return section_mm2 / filament_mm2; }
};

// Throws Error where a size, count or temperature makes no sense.
[[nodiscard]] Bead check_options(PieceOptions const& options);

// Throws Error where a given speed breaks a limit; lowers speeds that were left to choice and
// says so.
[[nodiscard]] Speeds choose_speeds(PieceOptions const& options,
                                   Bead const& bead,
                                   Layout const& layout,
                                   std::vector<std::string>& remarks);

// Speed of the lead-in of `length_mm` at which it lasts long enough, at most the medium one.
[[nodiscard]] double lead_in_speed(PieceOptions const& options,
                                   double medium_mm_s,
                                   double length_mm,
                                   std::vector<std::string>& remarks);

}  // namespace meltlag::testpiece::piece
