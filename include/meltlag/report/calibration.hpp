// SPDX-License-Identifier: MIT
// What a fit and a plan of readings say, in words.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "meltlag/fit/fit.hpp"
#include "meltlag/fit/plan_readings.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

enum class Details : std::uint8_t { left_out, shown };

// First line: what runs on after a stop and the lag at three flows; then estimates, what is not
// determined, readings that look wrong, and whether it is enough.
[[nodiscard]] std::string to_text(fit::FitResult const& fit, Details details);
[[nodiscard]] nlohmann::json to_json(fit::FitResult const& fit);

// What it says in words, beside the estimates; sections that say nothing are left out.
struct Section {
  std::string heading;
  Sentences sentences;
};
[[nodiscard]] std::vector<Section> findings(fit::FitResult const& fit);

// What is worth measuring next, most useful first; the first sentence says whether the lag is known
// well enough.
[[nodiscard]] std::vector<std::string> next_measurements(fit::FitResult const& fit);

// How precisely the planned readings should tell the lag.
[[nodiscard]] std::string to_text(fit::ReadingPlan const& plan);

}  // namespace meltlag::report
