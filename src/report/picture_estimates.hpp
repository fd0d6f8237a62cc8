// SPDX-License-Identifier: MIT
// What a picture tells beside the lag: bed, light, an uneven feed, and what the screw can do.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "meltlag/fit/fit.hpp"

namespace meltlag::report {

// Of a fit that has a picture's outcome.
[[nodiscard]] std::string picture_text(fit::FitResult const& fit);
[[nodiscard]] nlohmann::json picture_json(fit::DenseOutcome const& dense);

}  // namespace meltlag::report
