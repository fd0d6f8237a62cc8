// SPDX-License-Identifier: MIT
// What a file holds, as text and JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/adapt/inspection.hpp"
#include "meltlag/base/diagnostic.hpp"

namespace meltlag::report {

struct InspectionTable {
  adapt::Inspection file;
  std::optional<double> max_flow_mm3_s = {};
  std::optional<double> melt_volume_mm3 = {};      // of the barrel, where it is known
  std::optional<double> longest_residence_s = {};  // that the material bears
  std::optional<double> nozzle_mm = {};            // where it is known
  std::vector<Notice> notices = {};
};

// What a builder should look at before printing, one sentence each.
[[nodiscard]] std::vector<std::string> warnings(InspectionTable const& table);
[[nodiscard]] std::string to_text(InspectionTable const& table);
[[nodiscard]] nlohmann::json to_json(InspectionTable const& table);

}  // namespace meltlag::report
