// SPDX-License-Identifier: MIT
#include "ring_stretches.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace meltlag::testpiece::rings {
namespace {

using piece::Bead;
using piece::Speeds;
using piece::WallStretch;

constexpr double leg_s = 12.5, longest_leg_mm = 180;  // at the medium speed
constexpr double steady_s = 5, longest_steady_mm = 70;
constexpr double dry_mm = 24, dry_s = 1.5;  // the head goes on while the screw stands
constexpr double bursts_s[] = {0.5, 1, 2, 4};
constexpr double refill_s = 6;  // at the medium speed, so that the screw's store is full again

double leg_mm(Speeds const& speeds) { return std::min(longest_leg_mm, leg_s * speeds.medium_mm_s); }

// As the fence's, but the head does not wait at the end: a hot nozzle at rest would mark paper or
// film. It goes on dry for as long.
std::vector<WallStretch> run_out(int copy, Speeds const& speeds, double e_mm_per_mm) {
  double const crawl_mm_s = std::max(speeds.slow_mm_s / 2, speeds.slowest_mm_s);
  double const printed_mm_s = copy == 2 ? crawl_mm_s : speeds.fast_mm_s;
  double const dry_mm_s = copy == 3 ? speeds.medium_mm_s : printed_mm_s;
  double const printed_mm = leg_mm(speeds) * 0.4;
  return {{printed_mm, printed_mm_s, e_mm_per_mm, copy == 2 ? "very slow" : "fast"},
          {dry_mm + dry_s * dry_mm_s, dry_mm_s, 0, "the screw stands"},
          {printed_mm, speeds.medium_mm_s, e_mm_per_mm, "restarted after the pause"}};
}

Passage steady(int copy, Speeds const& speeds, double e_mm_per_mm) {
  double const each_mm = std::min(longest_steady_mm, steady_s * speeds.medium_mm_s);
  Passage out{.group = "steady", .copy = copy, .stretches = {}};
  for (double const share : {0.8, 1.0, 1.25})
    out.stretches.push_back({each_mm,
                             speeds.medium_mm_s,
                             share * e_mm_per_mm,
                             fmt::format("steady at {:g} of E per mm", share)});
  // Not always from thin to thick, which a feed that drifts could look like.
  std::rotate(out.stretches.begin(), out.stretches.begin() + copy % 3, out.stretches.end());
  return out;
}

}  // namespace

double Passage::length_mm() const {
  double sum = link_mm;
  for (WallStretch const& stretch : stretches) sum += stretch.length_mm;
  return sum;
}

std::vector<Passage> copy_of_groups(int copy,
                                    std::uint32_t seed,
                                    Speeds const& speeds,
                                    Bead const& bead) {
  std::vector<Group> const order = piece::shuffled_groups(seed);
  auto const count = order.size() / 3;
  double const e = bead.e_mm_per_mm();
  std::vector<Passage> out;
  for (std::size_t i = 0; i < count; ++i) {
    Group const group = order[static_cast<std::size_t>(copy - 1) * count + i];
    out.push_back({name_of(group),
                   copy,
                   group == Group::run_out
                       ? run_out(copy, speeds, e)
                       : piece::stretches_of(group, copy, leg_mm(speeds), speeds, bead)});
  }
  auto const place = static_cast<std::ptrdiff_t>((seed + static_cast<std::uint32_t>(copy)) % count);
  out.insert(out.begin() + place, steady(copy, speeds, e));
  return out;
}

Passage bursts(double max_flow_mm3_s,
               PieceOptions const& options,
               Speeds const& speeds,
               Bead const& bead) {
  Passage out{.group = "burst", .copy = 1, .stretches = {}};
  double const speed_mm_s = burst_share * max_flow_mm3_s / bead.section_mm2;
  auto const& most = options.limits.max_speed_mm_s;
  bool const reaches = speed_mm_s <= std::min(most[0], most[1]) &&
                       speed_mm_s * bead.e_mm_per_mm() <= most[motion::axis_e];
  if (!reaches) return out;
  for (double const seconds : bursts_s) {
    out.stretches.push_back({seconds * speed_mm_s,
                             speed_mm_s,
                             bead.e_mm_per_mm(),
                             fmt::format("burst of {:g} s", seconds)});
    out.stretches.push_back(
        {refill_s * speeds.medium_mm_s, speeds.medium_mm_s, bead.e_mm_per_mm(), "after the burst"});
  }
  return out;
}

Passage turns(double e_mm_per_turn, Speeds const& speeds, Bead const& bead) {
  double const e = bead.e_mm_per_mm();
  return {.group = "turns",
          .copy = 1,
          .stretches = {{turns_at_rest * e_mm_per_turn / e,
                         speeds.medium_mm_s,
                         e,
                         fmt::format("{:g} turns of the screw", turns_at_rest)}}};
}

}  // namespace meltlag::testpiece::rings
