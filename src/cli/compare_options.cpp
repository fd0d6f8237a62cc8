// SPDX-License-Identifier: MIT
#include "compare_options.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string_view>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/base/text.hpp"
#include "meltlag/melt/causes.hpp"

namespace meltlag::cli {
namespace {

// A positive number that fills the whole text.
std::optional<double> positive(std::string_view text) {
  double value = 0;
  char const* const end = text.data() + text.size();
  auto const read = std::from_chars(text.data(), end, value, std::chars_format::fixed);
  if (read.ec != std::errc() || read.ptr != end || !(value >= 0) || !std::isfinite(value))
    return {};
  return value;
}

std::string_view without_unit(std::string_view text, std::string_view unit) {
  text = trim(text);
  if (text.ends_with(unit)) text = trim(text.substr(0, text.size() - unit.size()));
  return text;
}

std::optional<std::vector<double>> fields_of(std::string_view text) {
  std::vector<double> fields;
  while (true) {
    std::size_t const colon = text.find(':');
    auto const field = positive(text.substr(0, colon));
    if (!field) return {};
    fields.push_back(*field);
    if (colon == std::string_view::npos) return fields;
    text.remove_prefix(colon + 1);
  }
}

double sd_of(profile::Profile const& profile, std::string_view key) {
  auto const found = profile.sd.find(key);
  return found == profile.sd.end() ? 0 : found->second;
}

compare::ProfileDeviations deviations_of(profile::Profile const& profile) {
  compare::ProfileDeviations sd;
  sd.delivered_factor = sd_of(profile, "feed.delivered_factor");
  sd.backlash_mm = sd_of(profile, "feed.backlash_mm");
  sd.reverse_factor = sd_of(profile, "feed.reverse_factor");
  sd.leak_per_s = sd_of(profile, "lag.leak_per_s");
  if (profile::lag_source(profile) == profile::Source::measured) {
    sd.run_on_mm3 = sd_of(profile, "lag.run_on_mm3");
    sd.flow_index = sd_of(profile, "lag.flow_index");
    sd.run_on_flow_index_correlation = profile.lag_origin.run_on_flow_index_correlation;
  } else if (auto const machine = profile::parts_machine(profile)) {
    sd.run_on_mm3 =
        melt::find_causes(*machine, profile.sd, profile::lag_flow_mm3_s(profile)).run_on_mm3.sd;
  }
  return sd;
}

}  // namespace

double grams_of(std::string const& text) {
  std::string plain(without_unit(text, "g"));
  std::ranges::replace(plain, ',', '.');
  auto const grams = positive(plain);
  if (!grams || !(*grams > 0))
    throw Error("--mass " + text + ": no mass above 0", {}, "type grams, as in --mass 4.32g");
  return *grams;
}

double seconds_of(std::string const& text, double planned_s) {
  auto const fields = fields_of(without_unit(text, "s"));
  bool const sound =
      fields && fields->size() <= 3 &&
      std::all_of(fields->begin() + 1, fields->end(), [](double f) { return f < 60; });
  double seconds = 0;
  if (sound) {
    for (double const field : *fields) seconds = 60 * seconds + field;
    auto const off = [&](double s) { return std::abs(std::log(s / planned_s)); };
    if (fields->size() == 2 && planned_s > 0 && off(60 * seconds) < off(seconds)) seconds *= 60;
  }
  if (!(seconds > 0))
    throw Error("--took " + text + ": no time", {}, "type minutes:seconds, as in --took 16:05");
  return seconds;
}

compare::CompareOptions compare_options(CompareCommandOptions const& request,
                                        profile::Profile const& profile) {
  compare::CompareOptions options{.program = {.slicer_diameter_mm = profile.feed.slicer_diameter_mm,
                                              .limits = profile.limits,
                                              .g91_covers_e = profile.machine.g91_covers_e},
                                  .plant = profile::plant(profile),
                                  .sd = deviations_of(profile),
                                  .tools = request.tools,
                                  .layer_height_mm = request.layer_height_mm,
                                  .density_g_cm3 = request.density_g_cm3
                                                       ? request.density_g_cm3
                                                       : profile.material.density_g_cm3,
                                  .thrust_n_per_mm3 = {},
                                  .clock_offset_s = request.clock_offset_s};
  auto const parts = profile::parts_lag(profile);
  if (parts && parts->compliance_mm3_mpa > 0)
    options.thrust_n_per_mm3 = parts->area.bore_mm2 / parts->compliance_mm3_mpa;
  return options;
}

}  // namespace meltlag::cli
