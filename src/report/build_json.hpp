// SPDX-License-Identifier: MIT
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "meltlag/report/builds.hpp"

namespace meltlag::report {

[[nodiscard]] nlohmann::json build_json(BuildRow const& row);
[[nodiscard]] nlohmann::json comparison_json(compare::Comparison const& comparison);

}  // namespace meltlag::report
