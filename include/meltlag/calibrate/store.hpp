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

namespace meltlag::calibrate {

struct StoreCup {
  int number = 0;            // in the order filled, from 1
  int bursts = 0;            // cycles; a cup of none has as many without a burst
  double flow_mm3_s = 0;     // between bursts, commanded
  double burst_mm3_s = 0;    // commanded
  double burst_s = 0;        // at full rate; 0: no burst
  double rise_mm3_s2 = 0;    // of the commanded flow
  double commanded_mm3 = 0;  // all in all
};

struct StoreReading {
  StoreCup cup;
  double mass_g = 0;
  std::size_t row = 0;  // of the sheet, from 0
};

// What is known of f and q beforehand, each with its standard deviation; none known: a tenth.
struct StoreKnowledge {
  double delivered_factor = 1;
  std::optional<double> delivered_factor_sd = {};
  double max_flow_mm3_s = 0;
  std::optional<double> max_flow_sd_mm3_s = {};
  std::optional<double> max_burst_mm3_s = {};  // delivered
};

struct StoreJudgeOptions {
  StoreKnowledge known;
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
inline constexpr int least_bursts = 100, most_bursts = 500;

// The cups to run, without numbers, for what is known: two without bursts and two for each length.
// Half the interval that is to be expected of them, 95 %, with a store of 1 mm³ and cups that
// scatter by 1 % beside the scale's steps.
struct StorePlan {
  std::vector<StoreCup> cups;
  double plus_minus_mm3 = 0;
  double settle_s = 0;  // the slow flow of each cycle
};
struct StorePlanOptions {
  StoreKnowledge known;
  double rise_mm3_s2;                     // E's acceleration times the filament's section
  std::optional<double> most_mm3_s = {};  // commanded: the bursts' flow is no more than this
  double density_g_cm3;
  double scale_g = 0.01;
  std::optional<int> bursts_per_cup = {};  // else as few as do, 100 to 500
};
// Throws Error where the store cannot be determined so, with what to do.
[[nodiscard]] StorePlan plan_store_cups(StorePlanOptions const& options);

// All that one burst commands, speeding up from the slow flow and down to it again included.
[[nodiscard]] double burst_volume_mm3(StoreCup const& cup);
// Excess that a burst of the cup asks for above `max_flow_mm3_s`, mm³.
[[nodiscard]] double excess_mm3(StoreCup const& cup,
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

}  // namespace meltlag::calibrate
