// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include "meltlag/melt/parts.hpp"
#include "meltlag/report/causes.hpp"
#include "meltlag/report/html.hpp"

namespace meltlag::report {

struct BarrelPicture {
  melt::Barrel const& barrel;
  std::optional<melt::Nozzle> const& nozzle;
  std::optional<BarrierPage> const& barrier;
};
// From the hopper down to the nozzle, to scale: tube, sections, screw, tip gap, hole; beside it the
// temperature along the tube.
void write_barrel(Out const& out, BarrelPicture const& picture);

}  // namespace meltlag::report
