// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "meltlag/base/error.hpp"
#include "meltlag/profile/profile.hpp"

namespace meltlag::profile {
namespace {

constexpr double usual_flow_mm3_s = 5;  // a bead of 0.8 × 0.3 mm at 25 mm/s

}  // namespace

std::vector<std::string> missing_parts(Profile const& profile) {
  std::vector<std::string> missing;
  if (!profile.barrel) missing.emplace_back("[barrel] sections");
  if (!profile.nozzle) missing.emplace_back("[nozzle] diameter_mm and hole_length_mm");
  if (profile.mechanics.empty()) missing.emplace_back("[mechanics] parts or load_test");
  MaterialFacts const& facts = profile.material;
  std::string keys;
  auto const need = [&](std::optional<double> const& value, char const* key) {
    if (!value) keys += fmt::format("{}{}", keys.empty() ? "" : ", ", key);
  };
  need(facts.density_g_cm3, "density_g_cm3");
  need(facts.bulk_modulus_mpa, "bulk_modulus_mpa");
  need(facts.consistency_pa_sn, "consistency_pa_sn");
  need(facts.flow_index, "flow_index");
  if (!keys.empty()) missing.push_back(fmt::format("[material] use, or {}", keys));
  return missing;
}

std::optional<melt::Machine> parts_machine(Profile const& profile) {
  if (!missing_parts(profile).empty()) return std::nullopt;
  MaterialFacts const& facts = profile.material;
  return melt::Machine{.barrel = *profile.barrel,
                       .nozzle = *profile.nozzle,
                       .parts = profile.mechanics,
                       .material = {.density_g_cm3 = *facts.density_g_cm3,
                                    .bulk_modulus_mpa = *facts.bulk_modulus_mpa,
                                    .consistency_pa_sn = *facts.consistency_pa_sn,
                                    .flow_index = *facts.flow_index,
                                    .at_c = facts.at_c,
                                    .activation_kj_mol = facts.activation_kj_mol,
                                    .longest_residence_s = facts.longest_residence_s},
                       .friction_n = profile.friction_n};
}

double lag_flow_mm3_s(Profile const& profile) {
  return profile.measured_lag ? profile.measured_lag->at_flow_mm3_s : usual_flow_mm3_s;
}

std::optional<melt::PartsLag> parts_lag(Profile const& profile) {
  std::optional<melt::Machine> const machine = parts_machine(profile);
  if (!machine) return std::nullopt;
  return melt::lag_from_parts(*machine, lag_flow_mm3_s(profile));
}

Source lag_source(Profile const& profile) {
  if (profile.measured_lag) return Source::measured;
  return missing_parts(profile).empty() ? Source::parts : Source::none;
}

melt::LagLaw lag_law(Profile const& profile) {
  if (profile.measured_lag) return *profile.measured_lag;
  if (std::optional<melt::PartsLag> const lag = parts_lag(profile)) return lag->law;
  throw Error(
      "the profile needs [lag] or the parts",
      {.file = profile.path},
      fmt::format("{}measure it: `meltlag calibrate print --profile {}` writes a test piece; or "
                  "complete the parts: {}; `meltlag profile check {}` says more",
                  profile.lag_left_behind.empty() ? "" : profile.lag_left_behind + "\n",
                  profile.path,
                  fmt::join(missing_parts(profile), ", "),
                  profile.path));
}

melt::PlantParameters plant(Profile const& profile) {
  melt::PlantParameters out{
      .law = lag_law(profile), .feed = profile.feed, .leak_per_s = profile.leak_per_s};
  Bounds const& bounds = profile.bounds;
  if (bounds.max_flow_mm3_s) out.supply.max_flow_mm3_s = *bounds.max_flow_mm3_s;
  if (bounds.max_burst_mm3_s) out.supply.max_burst_mm3_s = *bounds.max_burst_mm3_s;
  out.supply.burst_mm3 = bounds.burst_mm3.value_or(0);
  return out;
}

double sure_burst_mm3(Profile const& profile) {
  auto const sd = profile.sd.find("limits.burst_mm3");
  double const less = sd == profile.sd.end() ? 0 : 2 * sd->second;
  return std::max(0.0, profile.bounds.burst_mm3.value_or(0) - less);
}

schedule::LagSpread lag_spread(Profile const& profile) {
  if (!profile.measured_lag) return {};
  auto const sd = [&](char const* key) {
    auto const found = profile.sd.find(key);
    return found == profile.sd.end() ? 0.0 : found->second;
  };
  return {sd("lag.run_on_mm3") / profile.measured_lag->run_on_mm3,
          sd("lag.flow_index"),
          profile.lag_origin.run_on_flow_index_correlation};
}

schedule::LagSpread required_lag_spread(Profile const& profile) {
  schedule::LagSpread const spread = lag_spread(profile);
  if (spread.known()) return spread;
  throw Error("does not say how well the lag is known",
              {.file = profile.path},
              "Add run_on_mm3_sd and flow_index_sd to [lag], or leave --robust out.");
}

}  // namespace meltlag::profile
