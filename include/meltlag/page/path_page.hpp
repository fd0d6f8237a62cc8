// SPDX-License-Identifier: MIT
// The page of `adapt`, `predict` and `diff`: headline, flow over time, the bed, the worst places.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/page/html.hpp"
#include "meltlag/page/path_record.hpp"
#include "meltlag/report/diff.hpp"
#include "meltlag/report/metrics.hpp"

namespace meltlag::page {

struct PathPage {
  std::string command;  // "adapt"
  std::string file;     // what was read
  std::string version;
  report::MetricsTable figures;  // as --json gives them
  std::optional<report::ChangeCounts> changes;
  std::string nothing_gained;         // why, where it is so; said first
  std::vector<std::string> remarks;   // sentences beside the headline: limits reached, …
  std::vector<std::string> cautions;  // what the figures leave out
  std::vector<Notice> notices;
  std::string profile_title, profile_text;
};

// Writes the whole page. `path` must be finished.
void write_page(Out const& out, PathPage const& page, PathRecord const& path);

}  // namespace meltlag::page
