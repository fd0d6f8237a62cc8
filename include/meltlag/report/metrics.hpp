// SPDX-License-Identifier: MIT
// Figures of one file, or of an original and what became of it.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/melt/parts.hpp"

namespace meltlag::report {

struct MetricsTable {
  judge::PrintMetrics as_sliced;
  // What the slicer's own flow setting would give; credit is claimed against it alone.
  std::optional<judge::PrintMetrics> flow_set_right = {};
  std::optional<judge::PrintMetrics> adapted = {};
  bool parted = false;  // `adapted` ends where the paths part: nothing can be claimed for it
  std::optional<melt::PartsLag> parts = {};   // for pressure and thrust
  double delivered_factor = 1;                // what the flow is set right by
  std::optional<double> max_flow_mm3_s = {};  // what the screw feeds for long, where that is known
  // Where time was spent: what that alone takes off the misplaced share, as scheduled.
  std::optional<double> saved_by_time = {};
};

// Aligned lines of at most 80 columns.
[[nodiscard]] std::string to_text(MetricsTable const& table);
// Keys carry units.
[[nodiscard]] nlohmann::json to_json(judge::PrintMetrics const& figure);
[[nodiscard]] nlohmann::json to_json(MetricsTable const& table);

// One line each: what was noted, how often, where first.
[[nodiscard]] std::string to_text(std::vector<Notice> const& notices);
[[nodiscard]] nlohmann::json to_json(std::vector<Notice> const& notices);

// JSON text. Bytes that are no UTF-8 are replaced.
[[nodiscard]] std::string dump(nlohmann::json const& json);

}  // namespace meltlag::report
