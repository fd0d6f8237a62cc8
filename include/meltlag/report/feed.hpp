// SPDX-License-Identifier: MIT
// What weighed cups and bursts say, in words and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "meltlag/fit/feed_verdict.hpp"
#include "meltlag/fit/store.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

struct FeedTable {
  fit::FeedVerdict verdict;
  fit::FeedJudgeOptions options;
};

// First line: even enough, borderline, or wanders. Lines of at most 80 columns.
[[nodiscard]] std::string to_text(FeedTable const& table);
// Its first lines, and what it says in words.
[[nodiscard]] Sentences headline(FeedTable const& table);
[[nodiscard]] Sentences findings(FeedTable const& table);
// The criteria that the words come from: t, F and their chances.
[[nodiscard]] std::string criteria_text(FeedTable const& table);
[[nodiscard]] nlohmann::json to_json(FeedTable const& table);

[[nodiscard]] std::string to_text(fit::ScrewLimits const& limits);
[[nodiscard]] nlohmann::json to_json(fit::ScrewLimits const& limits);

[[nodiscard]] std::string to_text(fit::StoreVerdict const& verdict);
[[nodiscard]] nlohmann::json to_json(fit::StoreVerdict const& verdict);

}  // namespace meltlag::report
