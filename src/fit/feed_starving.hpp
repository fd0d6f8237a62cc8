// SPDX-License-Identifier: MIT
// From which flow on cups starve: the change point of what is delivered over what is asked.
//
// With Q the asked flow and V̇ the delivered one, cups that are fed hold V̇ = f·Q, cups that starve
// V̇ = q whatever was asked. For each place of the change the two levels and one drift are fitted
// to the logarithms by least squares; the place with the least squares is kept.
#pragma once

#include <optional>
#include <vector>

#include "feed_outliers.hpp"
#include "meltlag/base/sheet.hpp"

namespace meltlag::fit {

struct ChangePoint {
  std::size_t fed_flows = 0;  // of the flows, rising: those below the change
  double level_mm3_s = 0;     // q, of the cups above it
  double level_share_sd = 0;  // its deviation, as a share
  int freedom = 0;
  double arrived_share = 0;  // of what the greatest flow asked above the greatest fed flow
  Significance test = {};    // against one level for all
};

// Of what is asked above the change less than this arrives where cups starve; more of it is slip.
inline constexpr double starved_share = 0.5;
inline constexpr double starving_p = 0.01;

// Nothing where one level explains the cups as well. `flows` rise. `store_mm3` is what stood ready
// at each cup's start. Throws Error where every flow starves: what is fed cannot be determined
// then.
[[nodiscard]] std::optional<ChangePoint> find_change(std::vector<CupShare> const& cups,
                                                     std::vector<double> const& flows,
                                                     double store_mm3,
                                                     Sheet const& sheet);

}  // namespace meltlag::fit
