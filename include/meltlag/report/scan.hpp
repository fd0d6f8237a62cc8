// SPDX-License-Identifier: MIT
// What was read off a picture, as text and JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "meltlag/scan/widths.hpp"

namespace meltlag::report {

[[nodiscard]] std::string to_text(scan::ScanResult const& result);
[[nodiscard]] nlohmann::json to_json(scan::ScanResult const& result);

}  // namespace meltlag::report
