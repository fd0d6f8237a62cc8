// SPDX-License-Identifier: MIT
// What is wanted each second, cut by cut.
#pragma once

#include <vector>

#include "meltlag/schedule/problem.hpp"

namespace meltlag::schedule {

struct CutDemand {
  double duration_s = 0;
  double mm3_s = 0;  // 0 where the head stands or nothing is wanted
};

[[nodiscard]] std::vector<CutDemand> find_demand(Problem const& problem);

}  // namespace meltlag::schedule
