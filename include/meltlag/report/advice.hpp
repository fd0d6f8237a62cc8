// SPDX-License-Identifier: MIT
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "meltlag/adapt/advice.hpp"
#include "meltlag/judge/slicer_settings.hpp"

namespace meltlag::report {

// A few sentences: "All print speeds to 28 mm/s: +3 min 05 s, misplaced 11.0 % → 6.0 %."
enum class FlowAsked : std::uint8_t { within_what_is_fed, above_it };
// `flow`: whether the file's peak flow is more than the screw feeds.
[[nodiscard]] std::string to_text(adapt::Advice const& advice, FlowAsked flow);
[[nodiscard]] nlohmann::json to_json(adapt::Advice const& advice);

// What to set, and what is misplaced then.
[[nodiscard]] std::string to_text(judge::SlicerSettings const& settings);
[[nodiscard]] nlohmann::json to_json(judge::SlicerSettings const& settings);

}  // namespace meltlag::report
