// SPDX-License-Identifier: MIT
// What leaks back past the screw: a figure only where the metering formula holds (screw.hpp).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/melt/parts.hpp"

namespace meltlag::melt {

struct BackLeak {
  // Why there is no figure, one clause each; empty where there is one.
  std::vector<std::string> because;
  std::optional<double> mm3_s;  // at the flow's pressure
};

// The formula wants a channel that is full of Newtonian melt, shallow, and long enough for the
// pressure to build up in it: at least two turns, no deeper than a tenth of the diameter, a flow
// index of at least 0.9. In a short hot zone the plug of granules seals, not the melt.
[[nodiscard]] BackLeak back_leak(Machine const& machine, double flow_mm3_s);

}  // namespace meltlag::melt
