// SPDX-License-Identifier: MIT
// From readings to a lag law with honest uncertainties.
//
// Least squares on the readings, each divided by its standard deviation (tool, and slope · place
// error, at the prediction), with Tukey's loss against gross errors. Unknown are the run-on S at a
// reference flow (as ln S), the flow index n, the delivered factor (as its logarithm), and the
// layer height of every trace. Before measuring, all are held to be
//   ln S = ln 2 ± 1.6 at 5 mm³/s,  n = 0.65 ± 0.3,  factor = 1 ± 20 % (or as measured),  height =
//   as set ± 0.03 mm:
// plausible machines, so wide that measurements of some worth overrule it.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/fit/picture_outcome.hpp"
#include "meltlag/reading/predictor.hpp"

namespace meltlag::fit {

struct FitOptions {
  melt::Feed feed;        // what is known of backlash and reverse strokes; the factor is fitted
  double leak_per_s = 0;  // known
  std::optional<double> factor_sd = {};  // of feed.delivered_factor, where it was measured before
  double e_mm_per_turn = 0;              // > 0: pulsation with the turn is looked for
  reading::PredictorOptions predictor;
};

// Second-order effects that are fitted only where the readings ask for them.
enum class Extra : std::uint8_t { backlash, reverse_factor, leak, creep, pulsation };
[[nodiscard]] char const* name_of(Extra extra);  // "backlash or wind-up", …

struct ExtraOutcome {
  Extra extra = Extra::backlash;
  bool taken = false;
  bool tried = false;     // not where the print could not show it
  double chance = 1;      // that readings without it look so (F-test)
  Value value;            // backlash mm of E, factor, 1/s, share, amplitude as a share
  double pulse_turn = 0;  // pulsation: where in the turn (0 … 1) it delivers most
};

enum class RowVerdict : std::uint8_t {
  fine,
  queried,       // far from what any plausible machine gives
  looks_wrong,   // far from the fit; hardly counted
  feed_trouble,  // too thin, and its copies are not: the hopper, not the lag
};

struct RowOutcome {
  int row = 0;
  std::string trace;
  reading::ReadingKind kind = reading::ReadingKind::width;
  double ruler_mm = 0;
  double measured = 0, predicted = 0, sd = 0;  // sd: what measuring scatters
  double counted = 1;                          // 0 … 1, by the robust loss
  bool thin = false;
  RowVerdict verdict = RowVerdict::fine;
};

struct TraceHeight {
  std::string trace;
  Value height_mm;
};

struct FlowLag {
  double flow_mm3_s = 0;
  Value run_on_mm3, lag_s;
};

struct FitResult {
  melt::LagLaw law;  // at the flow where the readings determine the run-on best
  Value run_on_mm3, flow_index, delivered_factor;
  double run_on_index_correlation = 0;
  std::array<FlowLag, 3> at_flows;  // slowest, middle, fastest that the print shows
  std::vector<ExtraOutcome> extras;
  std::vector<RowOutcome> rows;
  std::vector<TraceHeight> heights;
  Value drift;               // of the bead's section from the first copies to the last, a share
  bool drift_known = false;  // needs first and last copies
  double scatter = 1;        // of the readings about the fit, in units of what was assumed
  int readings = 0, free_parameters = 0;
  std::vector<std::string> not_determined;                     // names, in plain words
  std::vector<std::string> correlations;                       // "run-on and flow index: −0.31"
  double nozzle_c = std::numeric_limits<double>::quiet_NaN();  // set while printing
  std::optional<DenseOutcome> dense;
  int readings_for_ten_percent = 0;  // more of the same kind until run-on is ±10 %; 0: enough
};

// Widths off a picture (readings with a length, more than two hundred) are fitted as one: unknown
// are, beside S, n and the factor, the layer's height as a plane and a bow over the bed, an offset
// of the edges with a first and a second harmonic of the bead's direction, how far the nozzle's
// mouth smears the bead along its path, and how far the piece is turned. Their errors are alike
// along the path: they are the sum of each row's own and one that wanders (a first-order process of
// the way). The covariance is the larger, in every direction, of what this says and what the
// scatter of whole blocks of path says, so that ± stays honest where the one is too simple or the
// other has too few blocks.
//
// Throws Error where the readings cannot determine the lag: fewer than five, or all alike.
[[nodiscard]] FitResult fit(reading::PrintedPath const& path,
                            std::vector<reading::Reading> const& readings,
                            FitOptions const& options);

// One print tells the share that creeps, hardly in what time.
inline constexpr double assumed_creep_s = 20;

// A lag law and its uncertainty at another flow, by first-order propagation.
[[nodiscard]] FlowLag at_flow(FitResult const& fit, double flow_mm3_s);

}  // namespace meltlag::fit
