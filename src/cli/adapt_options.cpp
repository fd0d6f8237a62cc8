// SPDX-License-Identifier: MIT
#include "adapt_options.hpp"

#include <algorithm>
#include <optional>
#include <string>

namespace meltlag::cli {
namespace {

// The greatest run-on that pressure and thrust limits allow, where the parts say what pressure it
// makes.
std::optional<double> most_run_on(profile::Profile const& profile) {
  auto const parts = profile::parts_lag(profile);
  if (!parts || parts->compliance_mm3_mpa <= 0) return {};
  std::optional<double> most;
  auto const limit = [&](double pressure_mpa) {
    double const run_on = parts->compliance_mm3_mpa * pressure_mpa;
    most = most ? std::min(*most, run_on) : run_on;
  };
  if (profile.bounds.max_pressure_mpa) limit(*profile.bounds.max_pressure_mpa);
  if (profile.bounds.max_thrust_n) limit(*profile.bounds.max_thrust_n / parts->area.bore_mm2);
  return most;
}

// A title may hold anything; in a comment line it must stay one line.
std::string one_line(std::string text) {
  std::replace_if(
      text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < ' '; }, ' ');
  return text;
}

}  // namespace

adapt::AdaptOptions adapt_options(profile::Profile const& profile) {
  melt::PlantParameters plant = profile::plant(profile);
  plant.supply.burst_mm3 = profile::sure_burst_mm3(profile);
  return {.plant = plant,
          .limits = profile.limits,
          .g91_covers_e = profile.machine.g91_covers_e,
          .shortest_cut_ms = profile.machine.shortest_cut_ms,
          .buffer_moves = profile.machine.buffer_moves,
          .max_lines_per_s = profile.machine.max_lines_per_s,
          .most_run_on_mm3 = most_run_on(profile),
          .cold_below_c = profile.bounds.cold_below_c,
          .caution = 0,
          .as_written = {},
          .price_mm3_per_s = 0,
          .spread = {},
          .most_print_mm_s = {},
          .min_speed_mm_s = profile.machine.min_speed_mm_s,
          .marker = "; adapted by meltlag " MELTLAG_VERSION " for " + one_line(profile.title)};
}

}  // namespace meltlag::cli
