// SPDX-License-Identifier: MIT
// Measured against predicted, row by row.
//
// A row is joined with three numbers of the same kind: what the model of the melt predicts, what
// would be there if nothing lagged (the screw's delivery at that moment), and what the file asks
// for. Widths are those that calipers see (reading/caliper.hpp); what leaves at a standstill lies
// at that place. Files stream in bounded memory; what is kept grows with the number of rows.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "meltlag/base/vec.hpp"
#include "meltlag/compare/clock.hpp"
#include "meltlag/compare/compare_options.hpp"
#include "meltlag/compare/measured.hpp"
#include "meltlag/compare/scatter.hpp"
#include "meltlag/gcode/purge.hpp"

namespace meltlag::compare {

// What the outflow does at a row, by the model.
enum class Stage : std::uint8_t {
  building_up,  // less comes out than the screw feeds, by more than 5 %
  steady,
  running_on,  // more comes out
};
inline constexpr int stages = 3;
[[nodiscard]] std::string_view name_of(Stage stage);

struct ComparedRow {
  MeasuredRow measured;
  std::int64_t line = 0;       // of the printed file; 0 before its first and after its last move
  double print_s = 0;          // planned time at the place
  Vec3 at_mm;                  // of the head, program coordinates
  double layer_height_mm = 0;  // widths only
  double travel_s = 0;         // since the bead before this one's beginning; by line only
  Stage stage = Stage::steady;
  double predicted = 0, without_lag = 0;
  double asked = std::numeric_limits<double>::quiet_NaN();  // NaN: the file asks for no such thing
  double tool_sd = 0;                                       // of measuring: tool and place
  double profile_sd = 0;  // of the prediction, from what the profile states
  // Change of `predicted` for a run-on or delivered factor larger by a share of itself, or a flow
  // index larger by 1.
  double per_run_on = 0, per_factor = 0, per_index = 0;

  [[nodiscard]] double off() const { return measured.value - predicted; }
  [[nodiscard]] double expected_sd() const;
  [[nodiscard]] bool as_expected() const;  // |off| ≤ 2·expected_sd
};

struct KindSummary {
  MeasuredKind kind = MeasuredKind::width;
  Offs offs;
  double bias_allowed = 0;      // standard deviation of the bias: scatter and profile
  double expected_rms = 0;      // by the rows' expected_sd
  double share_explained = 0;   // by lag, against assuming none
  double most_explainable = 0;  // measuring alone leaves the rest
  double mean_predicted = 0;
  std::size_t as_expected = 0;
};

// Neighbouring rows that are off to the same side.
struct RowStretch {
  MeasuredKind kind = MeasuredKind::width;
  std::int64_t first_line = 0, last_line = 0;
  double first_s = 0, last_s = 0;
  // Among the rows of its kind in the order of the print (in_print_order()).
  std::size_t first_row = 0, rows = 0;
  double mean_off = 0, mean_off_share = 0;  // of what was predicted
  double weight = 0;                        // Σ off/expected_sd / √rows
  // Of its row that is most off.
  std::int64_t line = 0;
  double at_s = 0;
  Vec3 at_mm;
  std::size_t layer = 0;  // from 1; 0 before the first
};

// Rows in the same stage; building_up twice: after short and after long travels.
struct StageOffs {
  Stage stage = Stage::steady;
  bool long_travel = false;  // longer than three lags
  std::size_t rows = 0;
  double off_share = 0, off_share_se = 0;  // of what was predicted, mean and standard error
};

// The profile's numbers as these rows alone would have them, over what it says.
struct Refit {
  double run_on = 1, run_on_sd = 0;  // sd 0: these rows do not determine it
  double delivered_factor = 1, delivered_factor_sd = 0;
  double chi2_before = 0, chi2_after = 0;
  std::size_t rows = 0;
};

// A moment of the predicted curve between the first and the last row.
struct CurvePoint {
  double print_s = 0;
  std::int64_t line = 0;
  double predicted_mm3_s = 0, without_lag_mm3_s = 0, asked_mm3_s = 0;
  double thrust_n = std::numeric_limits<double>::quiet_NaN();
};

enum class Finding : std::uint8_t {
  as_expected,
  run_on_larger,
  run_on_smaller,
  factor_larger,
  factor_smaller,
  thin_after_travel,  // beyond what a larger run-on explains: bridging, or oozing on the way
  uneven,             // off by more than expected, in no direction the model knows
  too_few,
};

struct PrintComparison {
  std::vector<ComparedRow> rows;  // in the sheet's order
  std::vector<KindSummary> kinds;
  std::vector<StageOffs> stages;
  std::vector<RowStretch> worst;  // the worst first, at most most_stretches
  std::optional<Clock> clock;     // where rows go by time
  Refit refit;
  std::vector<Finding> findings;  // at least one; what matters most first
  std::vector<CurvePoint> curve;
  std::int64_t unknown_waits = 0;  // in the file, counted as no time
  double planned_s = 0;
  gcode::BeadBox beads;  // of the part, from above
};
inline constexpr std::size_t most_stretches = 5, most_curve_points = 1000;

// Indices of the rows of one kind by planned time, else in the sheet's order.
[[nodiscard]] std::vector<std::size_t> in_print_order(PrintComparison const& comparison,
                                                      MeasuredKind kind);

// `original`: the file that `printed` was adapted from, for what is asked; empty: `printed` itself.
// Throws Error for files that cannot be read, rows whose line moves nothing, heights or densities
// that are not known, and an original with another path.
[[nodiscard]] PrintComparison compare(std::string const& printed,
                                      std::string const& original,
                                      std::span<MeasuredRow const> rows,
                                      CompareOptions const& options,
                                      Notices& notices);

}  // namespace meltlag::compare
