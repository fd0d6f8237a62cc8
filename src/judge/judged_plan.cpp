// SPDX-License-Identifier: MIT
#include "judged_plan.hpp"

namespace meltlag::judge {

void JudgedPlan::finish() {
  planner_.finish();
  cells_.finish();
  peaks_.finish();
  metrics_.planned_s = planner_.time_s();
  metrics_.path_s = path_.finish();
}

}  // namespace meltlag::judge
