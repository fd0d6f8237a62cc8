// SPDX-License-Identifier: MIT
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "meltlag/report/builds.hpp"

namespace meltlag::report {

[[nodiscard]] nlohmann::json build_json(BuildRow const& row);

}  // namespace meltlag::report
