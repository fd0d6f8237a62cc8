// SPDX-License-Identifier: MIT
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "meltlag/adapt/advice.hpp"

namespace meltlag::report {

// A few sentences: "All print speeds to 28 mm/s: +3 min 05 s, misplaced 11.0 % → 6.0 %."
[[nodiscard]] std::string to_text(adapt::Advice const& advice);
[[nodiscard]] nlohmann::json to_json(adapt::Advice const& advice);

}  // namespace meltlag::report
