// SPDX-License-Identifier: MIT
#include "figure_side.hpp"

namespace meltlag::adapt {

void JudgedPlan::finish() {
  planner_.finish();
  cells_.finish();
  peaks_.finish();
  figure_.planned_s = planner_.time_s();
  figure_.path_s = path_.finish();
}

}  // namespace meltlag::adapt
