// SPDX-License-Identifier: MIT
// The clock's word on [machine]: a print took another time than planned; which entry may be wrong?
//
// The file is planned again with each entry at some multiples f of itself. From time(ln f), linear
// in between, follows the multiple that would explain the time alone. One clocked time cannot tell
// entries apart; how likely each is follows from Bayes' rule, if one alone is wrong:
//   P(entry | time) ∝ P(entry) · N(ln f; 0, s) · |d ln f / d ln time|.
// How often each is wrong, and by what factor e^s, is experience (no source).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::compare {

enum class TimeEntry : std::uint8_t {
  acceleration,       // acceleration_mm_s2 and travel_acceleration_mm_s2
  axis_acceleration,  // max_acceleration_mm_s2
  speed,              // max_speed_mm_s
  corner,             // corner_jump_mm_s, or corner_rounding_mm
  feed,               // no entry: all feeds of the file, as a printer's speed knob does
};
[[nodiscard]] std::string name_of(TimeEntry entry, motion::CornerRule rule);

struct TimeInfluence {
  TimeEntry entry = TimeEntry::acceleration;
  double change_s = 0;                   // of the planned time when the entry is a tenth larger
  double shortest_s = 0, longest_s = 0;  // with the entry four times and a quarter of itself
  std::optional<double> times;           // so much of itself explains the time; nothing: none does
  double likelihood = 0;                 // of being the one that is wrong; all together 1, or 0
};

struct TimeCheck {
  double planned_s = 0, took_s = 0;
  std::int64_t unknown_waits = 0;      // heating and the like: in the time, not in the plan
  std::vector<TimeInfluence> entries;  // the likeliest first
};

[[nodiscard]] TimeCheck check_time(std::string const& path,
                                   double took_s,
                                   motion::WalkOptions const& options,
                                   Notices& notices);

}  // namespace meltlag::compare
