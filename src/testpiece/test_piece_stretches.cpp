// SPDX-License-Identifier: MIT
// What happens along a leg of each group, and in which order the groups come.
#include <fmt/format.h>

#include <array>
#include <cmath>
#include <random>
#include <utility>

#include "test_piece_fence.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr std::array groups = {Group::small_step,
                               Group::medium_step,
                               Group::large_step,
                               Group::run_out,
                               Group::short_retracts};
constexpr double stands_mm = 24;  // the head goes on this far while the screw stands
constexpr double rest_s = 1.5;    // at the end of it
constexpr double retract_gap_mm = 5;
constexpr std::array retracts_mm3 = {0.6, 1.5, 4.0};

std::vector<WallStretch> step(Pair pair, double leg_mm, double e_mm_per_mm) {
  double const third_mm = leg_mm / 3;
  return {{third_mm, pair.low_mm_s, e_mm_per_mm, "before the step up"},
          {third_mm, pair.high_mm_s, e_mm_per_mm, "after the step up"},
          {third_mm, pair.low_mm_s, e_mm_per_mm, "after the step down"}};
}

// Three run-outs that are unlike: from the fast speed at the fast speed; from half the slow speed,
// so that run-on is seen at flows far apart; from the fast speed at the medium one, so that what
// comes out lies closer together.
std::vector<WallStretch> run_out(int copy,
                                 double leg_mm,
                                 Speeds const& speeds,
                                 double e_mm_per_mm) {
  double const crawl_mm_s = std::max(speeds.slow_mm_s / 2, speeds.slowest_mm_s);
  double const printed_mm_s = copy == 2 ? crawl_mm_s : speeds.fast_mm_s;
  double const dry_mm_s = copy == 3 ? speeds.medium_mm_s : printed_mm_s;
  double const printed_mm = (leg_mm - stands_mm) / 2;
  return {{printed_mm, printed_mm_s, e_mm_per_mm, copy == 2 ? "very slow" : "fast"},
          {stands_mm, dry_mm_s, 0, "the screw stands", 0, rest_s},
          {printed_mm, speeds.medium_mm_s, e_mm_per_mm, "restarted after the pause"}};
}

std::vector<WallStretch> short_retracts(double leg_mm, Speeds const& speeds, Bead const& bead) {
  double const count = static_cast<double>(retracts_mm3.size());
  double const printed_mm = (leg_mm - count * retract_gap_mm) / (count + 1);
  double const e_mm_per_mm = bead.e_mm_per_mm();
  std::vector<WallStretch> stretches = {
      {printed_mm, speeds.medium_mm_s, e_mm_per_mm, "before the retracts"}};
  for (double const size_mm3 : retracts_mm3) {
    double const e_mm = std::max(0.01, std::round(size_mm3 / bead.filament_mm2 * 100) / 100);
    double const mm3 = e_mm * bead.filament_mm2;
    stretches.push_back(
        {retract_gap_mm, speeds.fast_mm_s, 0, fmt::format("retracted by {:.1f} mm³", mm3), -e_mm});
    stretches.push_back({printed_mm,
                         speeds.medium_mm_s,
                         e_mm_per_mm,
                         fmt::format("after the retract of {:.1f} mm³", mm3),
                         e_mm});
  }
  return stretches;
}

}  // namespace

std::vector<WallStretch> stretches_of(
    Group group, int copy, double leg_mm, Speeds const& speeds, Bead const& bead) {
  double const e_mm_per_mm = bead.e_mm_per_mm();
  switch (group) {
    case Group::small_step:
      return step(speeds.small, leg_mm, e_mm_per_mm);
    case Group::medium_step:
      return step(speeds.middle, leg_mm, e_mm_per_mm);
    case Group::large_step:
      return step({speeds.slow_mm_s, speeds.fast_mm_s}, leg_mm, e_mm_per_mm);
    case Group::run_out:
      return run_out(copy, leg_mm, speeds, e_mm_per_mm);
    case Group::short_retracts:
      break;
  }
  return short_retracts(leg_mm, speeds, bead);
}

// Written out, because std::shuffle gives another order with another library.
std::vector<Group> shuffled_groups(std::uint32_t seed) {
  std::mt19937 random(seed);
  std::vector<Group> order;
  for (int copy = 1; copy <= 3; ++copy) {
    auto shuffled = groups;
    for (std::size_t i = shuffled.size() - 1; i > 0; --i) {
      std::swap(shuffled[i], shuffled[random() % (i + 1)]);
    }
    order.insert(order.end(), shuffled.begin(), shuffled.end());
  }
  return order;
}

}  // namespace meltlag::testpiece::piece
