// SPDX-License-Identifier: MIT
// Builds of the machine: one row each, and an old one against a new one.
#pragma once

#include <array>
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/compare/builds.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/melt/causes.hpp"

namespace meltlag::report {

enum class LagFrom : std::uint8_t { measured, parts };

struct LagPoint {
  double flow_mm3_s;
  melt::Uncertain lag_s;
};

struct BuildRow {
  std::string title, path, date, notes;
  LagFrom lag_from;
  melt::Uncertain run_on_mm3;    // at the page's flow
  std::array<LagPoint, 3> lags;  // at the page's three flows
  std::optional<melt::Uncertain> melt_volume_mm3;
  std::optional<double> residence_s;  // mean, at the page's flow
  // Of the parts, where all are known; all or none of these and the melt's volume.
  std::optional<melt::Uncertain> pressure_mpa, thrust_n, parts_run_on_mm3;
  compare::BuildPrints prints;
  // What a given file comes to on this build, and with the slicer's flow setting put right.
  std::optional<judge::PrintMetrics> as_sliced, flow_set_right;
};

struct BuildsPage {
  double at_flow_mm3_s;
  std::vector<BuildRow> builds;
};

struct AgainstPage {
  std::string file;  // predicted on both, where one was given
  double at_flow_mm3_s;
  BuildRow old_build, new_build;
  std::optional<melt::BuildDifference> parts;  // where the parts of both are known
  compare::BuildComparison prints;
  std::optional<melt::Causes> old_causes = {};  // where the old build's parts are known
};

[[nodiscard]] std::string to_text(BuildsPage const& page);
[[nodiscard]] nlohmann::json to_json(BuildsPage const& page);
[[nodiscard]] std::string to_text(AgainstPage const& page);
[[nodiscard]] nlohmann::json to_json(AgainstPage const& page);

// "better", "worse", "cannot tell".
[[nodiscard]] char const* in_words(compare::Verdict verdict);
// Why no verdict, and how many more prints it takes; empty where there is one.
[[nodiscard]] std::string reason(compare::Comparison const& comparison);

}  // namespace meltlag::report
