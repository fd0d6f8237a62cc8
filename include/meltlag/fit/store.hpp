// SPDX-License-Identifier: MIT
// The melt that is ready for a burst, weighed: cups of many equal bursts.
//
// A cup holds N cycles of a slow steady flow and one burst above what the screw feeds for long. The
// slow flow lasts until the store b is full again. With x = f·c the delivered flow that the command
// c stands for and q = max_flow_mm3_s, a burst asks for the excess
//   a = ∫ max(0, x − q) dt = h·t + h²/(f·s),   h = f·c − q,
// t the time at full rate and s the rise of the command per second, both ways. The store gives at
// most b of it, so a cup holds
//   V = f·(all that is commanded) − N·max(0, a − b),
// a straight line while the bursts are short, and b short of it by ever the same once they are not:
// the excess delivered is min(a, b). Cups of bursts that rise in length, and of none, tell b, and f
// and q beside it. This is the rule of melt/supply.hpp with nothing wound back.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/sheet.hpp"
#include "meltlag/testpiece/feed.hpp"

namespace meltlag::fit {

struct StoreReading {
  testpiece::StoreCup cup;
  double mass_g = 0;
  std::size_t row = 0;  // of the sheet, from 0
};

struct StoreJudgeOptions {
  testpiece::StoreKnowledge known;
  double density_g_cm3;
  double density_sd_g_cm3 = 0;
  double scale_g = 0.01;
};

enum class StoreLevel : std::uint8_t {
  told,         // within useful_store_mm3
  none_seen,    // that too, but it may be none
  at_least,     // the longest bursts may not have emptied it; more than half of what they ask
  cannot_tell,  // wider
};

struct StoreVerdict {
  StoreLevel level = StoreLevel::cannot_tell;
  int cups = 0;
  double burst_mm3 = 0;
  double low_mm3 = 0, high_mm3 = 0;  // 95 % of chances; high is infinite for at_least
  double sd_mm3 = 0;                 // what the profile gets
  double scatter = 0;                // cup to cup beyond the scale's steps, as a share
  double max_flow_mm3_s = 0;         // q and f as the cups and what was known have them
  double delivered_factor = 0;
  double longest_excess_mm3 = 0;  // a of the longest bursts
};

// A store known to ± this is worth scheduling with.
inline constexpr double useful_store_mm3 = 0.3;

// Throws Error where the store cannot be determined so, with what to do.
[[nodiscard]] testpiece::StorePlan plan_store_cups(testpiece::StorePlanOptions const& options);

// make_feed_program() with the store's cups planned where they are asked for.
[[nodiscard]] testpiece::FeedProgram plan_feed_program(testpiece::FeedOptions const& options);

// Excess that a burst of the cup asks for above `max_flow_mm3_s`, mm³.
[[nodiscard]] double excess_mm3(testpiece::StoreCup const& cup,
                                double delivered_factor,
                                double max_flow_mm3_s);

// Rows without mass are passed over. Throws Error with file:line:column as read_cups does.
[[nodiscard]] std::vector<StoreReading> read_store_cups(Sheet const& sheet);

// Weighted least squares over b, f and q; the interval holds every b whose squares, the best f and
// q taken for it, lie within t² of the least. Throws Error where cups are too few, lengths do not
// differ, or bursts ran faster than known.max_burst_mm3_s.
[[nodiscard]] StoreVerdict judge_store(std::vector<StoreReading> const& cups,
                                       Sheet const& sheet,
                                       StoreJudgeOptions const& options);

}  // namespace meltlag::fit
