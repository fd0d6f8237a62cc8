// SPDX-License-Identifier: MIT
// What `adapt` says when it is done.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "emitting.hpp"
#include "meltlag/profile/profile.hpp"
#include "pacing.hpp"
#include "report_file.hpp"
#include "side_by_side_options.hpp"
#include "spread.hpp"

namespace meltlag::cli {

struct AdaptSummary {
  profile::Profile const& profile;
  Emitted const& result;
  Notices const& notices;
  std::optional<PaceChoice> const& pace;
  std::optional<SpreadFigures> spread;  // where the profile says how uncertain the lag is
  std::optional<adapt::SideBySideJob> const& job;  // where the part is printed twice
  std::optional<PairTold> const& pair;             // there too
  std::string const& e_doubt;                      // whether E is mm or mm³; empty: no doubt
};

// The line that matters most is bold on a terminal.
[[nodiscard]] std::string to_text(AdaptSummary const& summary);
[[nodiscard]] nlohmann::json to_json(AdaptSummary const& summary);
// `name`: of the file, as the user gave it. The path must have been kept.
void write_report(ReportFile& file, std::string const& name, AdaptSummary const& summary);

}  // namespace meltlag::cli
