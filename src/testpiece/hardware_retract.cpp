// SPDX-License-Identifier: MIT
#include "hardware_retract.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr double usual_retract_mm_s = 25, most_retract_mm = 20;

[[noreturn]] void refuse_retract(std::string why) {
  throw Error("the retract " + std::move(why), {}, "Choose a smaller or slower retract.");
}

}  // namespace

double retract_speed(HardwareOptions const& options,
                     Bead const& bead,
                     std::vector<std::string>& remarks) {
  double const axis_mm_s = options.piece.limits.max_speed_mm_s[motion::axis_e];
  auto const& max_flow = options.piece.max_flow_mm3_s;
  if (!(options.retract_mm >= 0 && options.retract_mm <= most_retract_mm))
    refuse_retract(fmt::format(
        "of {:g} mm of E must lie between 0 and {:g} mm", options.retract_mm, most_retract_mm));
  if (!options.retract_mm_s) {
    double const by_flow = max_flow ? part_of_limit * *max_flow / bead.filament_mm2 : axis_mm_s;
    double const allowed = std::floor(10 * std::min(axis_mm_s, by_flow) + 1e-9) / 10;
    if (allowed >= usual_retract_mm_s || options.retract_mm == 0) return usual_retract_mm_s;
    remarks.push_back(fmt::format(
        "Retract and recovery run at {:.1f} mm/s of E instead of {:g} mm/s, because {}.",
        allowed,
        usual_retract_mm_s,
        by_flow < axis_mm_s ? "the screw's greatest flow allows no more"
                            : "the axis allows no more"));
    return allowed;
  }
  double const speed = *options.retract_mm_s;
  if (!(speed >= 0.1)) refuse_retract(fmt::format("at {:g} mm/s of E is too slow", speed));
  if (speed > axis_mm_s)
    refuse_retract(
        fmt::format("at {:g} mm/s is beyond what the E axis can do: {:g} mm/s", speed, axis_mm_s));
  if (max_flow && speed * bead.filament_mm2 > *max_flow)
    refuse_retract(
        fmt::format("at {:g} mm/s of E needs {:.1f} mm³/s for its recovery, and the "
                    "screw gives {:.1f} mm³/s at most",
                    speed,
                    speed * bead.filament_mm2,
                    *max_flow));
  return speed;
}

}  // namespace meltlag::testpiece::piece
