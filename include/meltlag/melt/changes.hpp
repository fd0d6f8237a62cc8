// SPDX-License-Identifier: MIT
// What would help: the lag after plain changes of the machine.
//
// Where a lag was measured, only what the parts explain of it changes. With p0 the pressure at the
// measured flow, C_meas = S/p0 the compliance seen and C0 what the parts make of it,
//   C = C_meas + min(1, C_meas/C0)·(C_parts − C0),   S_new = C·p_new.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/melt/parts.hpp"

namespace meltlag::melt {

struct WhatIf {
  Machine machine;
  std::optional<LagLaw> measured;
  double at_flow_mm3_s;
  std::optional<double> melt_c;  // for "10 °C hotter"; needs the activation energy too
};

enum class ChangeKind : std::uint8_t {
  stiffer,  // work on one part
  rigid,    // the most that such work could reach
  other,    // of barrel, nozzle or temperature
};

struct Change {
  std::string name;  // "printed bracket twice as stiff"
  LagLaw law;        // afterwards, for a prediction
  double lag_s, lag_change_s;
  double run_on_mm3;  // at at_flow
  double melt_volume_mm3, mean_residence_s;
  double pressure_mpa, thrust_n;
  ChangeKind kind = ChangeKind::other;
  std::size_t part = 0;  // of the machine, where it is work on one
};

// The machine as it is; its change is 0.
[[nodiscard]] Change as_it_is(WhatIf const& what);
// Each part twice as stiff, and as if it were rigid; tip gap halved, the longest section 5 mm
// shorter, the next wider nozzle that is sold, melt 10 °C hotter: those that the machine allows, in
// this order.
[[nodiscard]] std::vector<Change> plain_changes(WhatIf const& what);
// Small ones: each part 10 % stiffer, 10 % less melt, a hole 1 % wider, 10 % less air; the most
// helpful first.
[[nodiscard]] std::vector<Change> small_changes(WhatIf const& what);

}  // namespace meltlag::melt
