// SPDX-License-Identifier: MIT
// What `adapt` says when it is done.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "meltlag/adapt/adapt_file.hpp"
#include "meltlag/adapt/time_table.hpp"
#include "meltlag/page/path_record.hpp"
#include "meltlag/profile/profile.hpp"
#include "report_file.hpp"

namespace meltlag::cli {

struct AdaptSummary {
  profile::Profile const& profile;
  adapt::AdaptedFile const& result;
  std::optional<page::PathRecord> const& path;  // where a page shows it
  Notices const& notices;
  std::optional<adapt::SideBySideJob> const& job;  // where the part is printed twice
};

// The line that matters most is bold on a terminal.
[[nodiscard]] std::string to_text(AdaptSummary const& summary);
[[nodiscard]] nlohmann::json to_json(AdaptSummary const& summary);
// `name`: of the file, as the user gave it. The path must have been kept.
void write_report(ReportFile& file, std::string const& name, AdaptSummary const& summary);
// The page of --time-table.
void write_report(ReportFile& file,
                  std::string const& name,
                  profile::Profile const& profile,
                  adapt::TradeTable const& table);

}  // namespace meltlag::cli
