// SPDX-License-Identifier: MIT
// Blobs and gaps of hardware pieces, one print or several, and old prints against new ones.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/compare/verdict.hpp"
#include "meltlag/fit/hardware.hpp"

namespace meltlag::report {

struct HardwarePrint {
  std::string name;
  fit::HardwareSpread spread;
};

struct HardwareVerdicts {
  compare::Comparison blob_mm3, gap_mm;
};

struct HardwareAgainst {
  std::vector<HardwarePrint> prints;      // of the old build
  std::optional<HardwareVerdicts> stops;  // single stops of one print each: about the prints alone
  HardwareVerdicts builds;                // one mean a print
};

struct HardwarePage {
  std::vector<HardwarePrint> prints;
  std::optional<HardwareAgainst> against;
  std::vector<std::string> remarks;
};

[[nodiscard]] std::string to_text(HardwarePage const& page);
[[nodiscard]] nlohmann::json to_json(HardwarePage const& page);

}  // namespace meltlag::report
