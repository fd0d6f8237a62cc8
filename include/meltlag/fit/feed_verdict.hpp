// SPDX-License-Identifier: MIT
// What the weighed cups say about the feed, and what the bursts say about the screw's limits.
//
// Cups that starve hold what the screw feeds for long, q, however fast it turned: they tell q, the
// others tell the delivered factor and all else.
// The share f = delivered/commanded volume of each cup is fitted by f = a(flow) + b·(cup − mean):
// one level for each flow and one drift for all. Scatter is the residual deviation. A lag of run-on
// S changes the volume of a stretch of bead by a few per cent; calipers resolve 0.05 mm on a bead
// of 1 mm, 5 %. Where cups differ by more than that, a test piece shows the hopper, not the lag. A
// cup averages a minute, so what is seen over a second of bead scatters more than cups do.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/sheet.hpp"
#include "meltlag/fit/linear_fit.hpp"
#include "meltlag/testpiece/feed.hpp"

namespace meltlag::fit {

struct CupReading {
  int number = 0;
  double flow_mm3_s = 0;
  double commanded_mm3 = 0;
  double mass_g = 0;
  std::size_t row = 0;  // of the sheet, from 0
};

// Rows without mass are passed over. In the order of the cups' numbers. Throws Error with
// file:line:column where a column is missing, a value is none or not positive, or a cup comes
// twice.
[[nodiscard]] std::vector<CupReading> read_cups(Sheet const& sheet);

struct FeedJudgeOptions {
  double density_g_cm3;
  double density_sd_g_cm3 = 0;
  double scale_g = 0.01;     // what the scale resolves
  double caliper_mm = 0.05;  // what calipers resolve …
  double bead_width_mm = 1;  // … on a bead of this width
  double burst_mm3 = 0;      // melt that stands ready when a cup begins, as far as it is known
  double burst_sd_mm3 = 0;
};

enum class FeedLevel : std::uint8_t {
  even,        // the feed's scatter, the drift and the scale's steps below a third of what calipers
               // resolve, and at most one odd cup
  borderline,  // below what they resolve
  wanders,     // above
  depends_on_flow,  // even at each flow, but flows differ by more than calipers resolve
  cannot_tell,      // the scale's steps alone are more than calipers resolve
};

// Shares are of the mean delivered factor. 95 % of chances lie within ±.
struct FlowShare {
  double flow_mm3_s = 0;
  int cups = 0;  // outliers left out
  double delivered_factor = 0;
  double plus_minus = 0;
  double scatter = 0;        // about the drift; NaN with one cup
  double scale_scatter = 0;  // what the scale's steps alone make of a cup at this flow
  bool starves = false;      // then it takes no part in the verdict's factor, scatter and drift
};

// What the screw feeds for long.
struct Starvation {
  double max_flow_mm3_s = 0;  // delivered
  double plus_minus = 0, sd = 0;
  Significance test = {};  // of the change point against one delivered factor for all
};

struct OddCup {
  CupReading reading;
  double share = 0;     // delivered/commanded
  double expected = 0;  // by the other cups
};

struct FeedVerdict {
  int cups = 0;  // weighed, outliers included
  std::vector<FlowShare> flows = {};
  double delivered_factor = 0;  // mean of the flows
  double plus_minus = 0;
  double delivered_factor_sd = 0;  // cups, differences between flows and density together
  double cups_sd = 0, flows_sd = 0, density_sd = 0;  // these three

  double scatter = 0, scatter_low = 0, scatter_high = 0;  // cup to cup at one flow, 95 % interval
  double scale_scatter = 0;                               // what the scale's steps make of it
  double own_scatter = 0;                                 // the rest of `scatter`: the feed's
  double drift = 0, drift_plus_minus = 0;                 // over the whole run
  Significance drift_test = {};
  Significance flow_test = {};  // whether the share depends on the flow; p = 1 with one flow
  double flow_spread = 0;       // greatest difference between flows

  std::vector<OddCup> odd_cups = {};  // left out of all of the above but `cups`

  std::optional<Starvation> starvation = {};  // where cups starve
  double fed_mm3_s = 0;                       // delivered at the greatest flow that does not starve
  // Delivered at the greatest flow that brings as much of what is asked as slower ones do, to what
  // calipers resolve; where the greatest flow does not.
  std::optional<double> fed_evenly_mm3_s = {};
  double scale_g = 0;       // that the masses were judged with: no finer than they are written
  bool may_starve = false;  // the greatest flow falls short, but not so that slip is ruled out
  double resolved = 0;      // what calipers resolve, as a share
  FeedLevel level = FeedLevel::even;
};

inline constexpr double significant_p = 0.05;

// Throws Error where the readings are too few (less than three more cups than flows) or the shares
// are out of all reason.
[[nodiscard]] FeedVerdict judge_feed(std::vector<CupReading> const& cups,
                                     Sheet const& sheet,
                                     FeedJudgeOptions const& options);

struct BurstReading {
  testpiece::Burst burst;
  bool fault = false;  // it clicked, skipped or stalled
};

// In the order of e_mm_s. `result` is "ok" (or good, fine, passed) for none, any other word for a
// fault; rows without a result were not run. Throws Error like read_cups.
[[nodiscard]] std::vector<BurstReading> read_bursts(Sheet const& sheet);

struct ScrewLimits {
  std::optional<double> passed_forward_mm3_s,
      failed_forward_mm3_s;                                        // highest below the first fault
  std::optional<double> passed_reverse_mm_s, failed_reverse_mm_s;  // of E
  std::optional<double> max_burst_mm3_s;     // delivered: what to put into [limits]
  std::optional<double> max_burst_sd_mm3_s;  // root mean square of what the limit may be above it
  std::optional<double> max_e_mm_s;          // what to put into [machine] max_speed_mm_s
  std::vector<std::string> remarks;
};

inline constexpr double burst_margin = 0.9;  // kept below the highest reverse burst that passed

// Forward the highest burst that passed below the first that failed is the most that the screw
// feeds in a burst. Back E's limit is `burst_margin` of it; without a failure E keeps the printer's
// own.
[[nodiscard]] ScrewLimits screw_limits(std::vector<BurstReading> const& bursts,
                                       double delivered_factor);

}  // namespace meltlag::fit
