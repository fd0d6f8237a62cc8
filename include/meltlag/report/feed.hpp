// SPDX-License-Identifier: MIT
// What weighed cups and bursts say, in words and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "meltlag/calibrate/feed_verdict.hpp"
#include "meltlag/calibrate/store.hpp"

namespace meltlag::report {

struct FeedTable {
  calibrate::FeedVerdict verdict;
  calibrate::FeedJudgeOptions options;
};

// First line: even enough, borderline, or wanders. Lines of at most 80 columns.
[[nodiscard]] std::string to_text(FeedTable const& table);
// The criteria that the words come from: t, F and their chances.
[[nodiscard]] std::string criteria_text(FeedTable const& table);
[[nodiscard]] nlohmann::json to_json(FeedTable const& table);

[[nodiscard]] std::string to_text(calibrate::ScrewLimits const& limits);
[[nodiscard]] nlohmann::json to_json(calibrate::ScrewLimits const& limits);

[[nodiscard]] std::string to_text(calibrate::StoreVerdict const& verdict);
[[nodiscard]] nlohmann::json to_json(calibrate::StoreVerdict const& verdict);

}  // namespace meltlag::report
