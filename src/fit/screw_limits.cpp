// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <cmath>
#include <limits>

#include "meltlag/fit/feed_verdict.hpp"

namespace meltlag::fit {
namespace {

struct Climb {
  std::optional<testpiece::Burst> passed,
      failed;                 // the highest below the first fault, and that fault
  bool passed_above = false;  // one passed above the first fault
};

// `bursts` rise.
Climb climb(std::vector<BurstReading> const& bursts, testpiece::Direction direction) {
  Climb result;
  for (BurstReading const& reading : bursts) {
    if (reading.burst.direction != direction) continue;
    if (reading.fault && !result.failed) result.failed = reading.burst;
    if (reading.fault) continue;
    if (result.failed)
      result.passed_above = true;
    else
      result.passed = reading.burst;
  }
  return result;
}

void remark_on(Climb const& found, char const* direction, std::vector<std::string>& remarks) {
  if (found.passed_above)
    remarks.push_back(
        fmt::format("{} bursts passed above burst {}, which failed: only those below it count",
                    direction,
                    found.failed->number));
  if (found.failed && !found.passed)
    remarks.push_back(fmt::format(
        "already the first {} burst failed: it gives no limit; begin lower", direction));
  if (found.passed && !found.failed)
    remarks.push_back(fmt::format("no {} burst failed: the limit may lie higher", direction));
}

}  // namespace

ScrewLimits screw_limits(std::vector<BurstReading> const& bursts, double delivered_factor) {
  Climb const forward = climb(bursts, testpiece::Direction::forward);
  Climb const reverse = climb(bursts, testpiece::Direction::reverse);
  ScrewLimits limits;
  if (forward.passed) {
    limits.passed_forward_mm3_s = forward.passed->flow_mm3_s;
    limits.max_burst_mm3_s = forward.passed->flow_mm3_s * delivered_factor;
  }
  if (forward.failed) limits.failed_forward_mm3_s = forward.failed->flow_mm3_s;
  // The limit is anywhere from the burst that passed to the one that failed.
  if (forward.passed && forward.failed)
    limits.max_burst_sd_mm3_s = (forward.failed->flow_mm3_s - forward.passed->flow_mm3_s) *
                                delivered_factor / std::sqrt(3.0);
  if (reverse.passed) limits.passed_reverse_mm_s = reverse.passed->e_mm_s;
  if (reverse.failed) limits.failed_reverse_mm_s = reverse.failed->e_mm_s;
  if (reverse.passed && reverse.failed) limits.max_e_mm_s = burst_margin * reverse.passed->e_mm_s;
  remark_on(forward, "forward", limits.remarks);
  remark_on(reverse, "reverse", limits.remarks);
  return limits;
}

}  // namespace meltlag::fit
