// SPDX-License-Identifier: MIT
// Who earns what: of the plastic that a file misplaces as sliced, what the slicer's own flow
// setting takes away, what turning the screw differently does, what more print time does, and what
// is left to the hardware.
#pragma once

#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "meltlag/report/metrics.hpp"

namespace meltlag::report {

// Parts of what is misplaced as sliced, each a share of what is wanted; their sum is as_sliced.
// Negative where something costs instead of giving.
struct Credit {
  double as_sliced = 0;
  double flow_setting = 0;
  double screw = 0;
  std::optional<double> time;  // where print time was spent
  double left = 0;             // what is misplaced after all
  bool slower = false;         // `screw` holds what a slower head gives as well
};
// None without all three columns, and for a file that wants or misplaces nothing.
[[nodiscard]] std::optional<Credit> credit_of(MetricsTable const& table);

// Flow set right misplaces more than the emitted file, by more than rounding.
[[nodiscard]] bool better_than_flow_setting(MetricsTable const& table);
// What adapting is worth beyond the flow setting, in one sentence; empty without all columns.
[[nodiscard]] std::string verdict(MetricsTable const& table);
// "The slicer's flow setting at 109.9 % …": what the middle column is; empty where the factor is 1.
[[nodiscard]] std::string flow_setting_words(MetricsTable const& table);

// Beads ask for more than the screw feeds for long.
struct Overload {
  double asked_mm3_s = 0, fed_mm3_s = 0;
  double starved_share = 0;      // of what is wanted, with the flow set right
  std::int64_t first_line = 0;   // that starves; 0: not known
  double speed_limit_mm_s = 0;   // for all print speeds: what the screw can feed; 0: not known
  double speed_limit_share = 0;  // of the print speeds as sliced, for the same
};
// None where less than 0.5 % of what is wanted is starved, or the screw's limit is not known.
[[nodiscard]] std::optional<Overload> overload_of(MetricsTable const& table);
// A speed that is kept below: rounded down to whole mm/s, to tenths below 10.
[[nodiscard]] std::string speed_text(double mm_s);
// One line of at most 80 columns, and what stands beneath it.
[[nodiscard]] std::string headline(Overload const& overload);
[[nodiscard]] std::string details(Overload const& overload);
// Both, as the first lines of a summary; empty where the screw feeds what is asked for.
[[nodiscard]] std::string opening(MetricsTable const& table);

[[nodiscard]] nlohmann::json to_json(Credit const& credit);
[[nodiscard]] nlohmann::json to_json(Overload const& overload);

}  // namespace meltlag::report
