// SPDX-License-Identifier: MIT
// What a picture tells beside the lag: bed, light, an uneven feed, and what the screw can do.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "meltlag/fit/fit.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

// Of a fit that has a picture's outcome.
[[nodiscard]] Sentences picture_findings(fit::FitResult const& fit);
// Of bursts above what the screw feeds for long.
[[nodiscard]] Sentences screw_findings(fit::BurstOutcome const& bursts);
[[nodiscard]] nlohmann::json picture_json(fit::DenseOutcome const& dense);

}  // namespace meltlag::report
