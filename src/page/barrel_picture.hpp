// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include "meltlag/melt/parts.hpp"
#include "meltlag/page/html.hpp"
#include "meltlag/report/causes.hpp"

namespace meltlag::page {

struct BarrelPicture {
  melt::Barrel const& barrel;
  std::optional<melt::Nozzle> const& nozzle;
  std::optional<report::BarrierPage> const& barrier;
};
// From the hopper down to the nozzle, to scale: tube, sections, screw, tip gap, hole; beside it the
// temperature along the tube.
void write_barrel(Out const& out, BarrelPicture const& picture);

}  // namespace meltlag::page
