// SPDX-License-Identifier: MIT
#include "meltlag/profile/review.hpp"

#include <fmt/format.h>

#include <cmath>

#include "review_parts.hpp"

namespace meltlag::profile {
namespace {

std::string next_step(Profile const& profile, Review const& review) {
  if (review.source != Source::measured)
    return fmt::format(
        "Measure the feed, then the lag{}:\n  meltlag calibrate feed --help\n  meltlag calibrate "
        "print "
        "TEST.gcode SHEET.csv --profile {} --map MAP.svg --start START --end END",
        review.source == Source::parts ? ", which is only computed from the parts as yet" : "",
        profile.path);
  return fmt::format("meltlag adapt FILE.gcode --profile {} --output ADAPTED.gcode", profile.path);
}

// A fifth, half and all of what the screw feeds, or of twice the flow of the law.
std::array<double, 3> three_flows(Profile const& profile, melt::LagLaw const& law) {
  double const top = profile.bounds.max_flow_mm3_s.value_or(2 * law.at_flow_mm3_s);
  return {0.2 * top, 0.5 * top, top};
}

// The power of ten of the last of so many significant digits.
int last_place(double value, int digits) {
  if (value == 0 || !std::isfinite(value)) return 0;
  return static_cast<int>(std::floor(std::log10(std::abs(value)))) + 1 - digits;
}

std::string fixed_digits(double value, int place) {
  if (place >= 0) {
    double const unit = std::pow(10.0, place);
    return fmt::format("{:.0f}", std::round(value / unit) * unit);
  }
  return fmt::format("{:.{}f}", value, -place);
}

}  // namespace

std::optional<double> deviation(Profile const& profile, std::string_view key) {
  auto const found = profile.sd.find(key);
  if (found == profile.sd.end()) return std::nullopt;
  return found->second;
}

std::string in_figures(double value) {
  std::string text = fixed_digits(value, last_place(value, 3));
  if (text.find('.') == std::string::npos) return text;
  text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) text.pop_back();
  return text;
}

std::string with_deviation(double value, std::optional<double> sd, std::string_view unit) {
  std::string text = in_figures(value);
  if (sd && *sd > 0) {
    int const place = last_place(*sd, 2);
    text = fmt::format("{} ± {}", fixed_digits(value, place), fixed_digits(*sd, place));
  }
  return unit.empty() ? text : fmt::format("{} {}", text, unit);
}

LagAtFlow lag_at_flow(Profile const& profile, melt::LagLaw const& law, double flow_mm3_s) {
  LagAtFlow lag{
      .flow_mm3_s = flow_mm3_s, .lag_s = melt::lag_s(law, flow_mm3_s), .lag_sd_s = std::nullopt};
  if (!profile.measured_lag) return lag;
  auto const run_on_sd = deviation(profile, "lag.run_on_mm3");
  auto const index_sd = deviation(profile, "lag.flow_index");
  if (!run_on_sd && !index_sd) return lag;
  double const by_run_on = run_on_sd.value_or(0) / law.run_on_mm3;
  double const by_index =
      index_sd.value_or(0) * (1 / law.flow_index + std::log(flow_mm3_s / law.at_flow_mm3_s));
  double const both = profile.lag_origin.run_on_flow_index_correlation * by_run_on * by_index;
  lag.lag_sd_s = lag.lag_s * std::sqrt(by_run_on * by_run_on + 2 * both + by_index * by_index);
  return lag;
}

Review review(Profile const& profile) {
  Review result;
  result.source = lag_source(profile);
  if (profile.barrel) result.melt_volume_mm3 = melt::melt_volume_mm3(*profile.barrel);
  result.parts = parts_lag(profile);
  if (result.source != Source::none) {
    result.law = lag_law(profile);
    for (double const flow : three_flows(profile, *result.law))
      result.lags.push_back(lag_at_flow(profile, *result.law, flow));
  }
  describe(profile, result);
  find_missing(profile, result);
  find_odd(profile, result);
  result.next = next_step(profile, result);
  return result;
}

}  // namespace meltlag::profile
