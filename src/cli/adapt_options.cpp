// SPDX-License-Identifier: MIT
#include "adapt_options.hpp"

#include <algorithm>
#include <optional>
#include <string>

namespace meltlag::cli {
namespace {

// A title may hold anything; in a comment line it must stay one line.
std::string one_line(std::string text) {
  std::replace_if(
      text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < ' '; }, ' ');
  return text;
}

}  // namespace

adapt::AdaptOptions adapt_options(profile::Profile const& profile) {
  auto const parts = profile::parts_lag(profile);
  profile::Bounds const& bounds = profile.bounds;
  return {.plant = profile::plant(profile),
          .limits = profile.limits,
          .sure_burst_mm3 = profile::sure_burst_mm3(profile),
          .g91_covers_e = profile.machine.g91_covers_e,
          .shortest_cut_ms = profile.machine.shortest_cut_ms,
          .buffer_moves = profile.machine.buffer_moves,
          .max_lines_per_s = profile.machine.max_lines_per_s,
          .most_run_on_mm3 = parts ? melt::greatest_run_on_mm3(
                                         *parts, {bounds.max_pressure_mpa, bounds.max_thrust_n})
                                   : std::nullopt,
          .cold_below_c = bounds.cold_below_c,
          .min_speed_mm_s = profile.machine.min_speed_mm_s,
          .spread = {},
          .flow_alone = {},
          .marker = "; adapted by meltlag " MELTLAG_VERSION " for " + one_line(profile.title)};
}

}  // namespace meltlag::cli
