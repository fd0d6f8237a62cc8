// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "review_parts.hpp"

namespace meltlag::profile {
namespace {

using Sentences = std::vector<std::string>;

void describe_barrel(Profile const& profile, Review& review) {
  if (!profile.barrel) return;
  melt::Barrel const& barrel = *profile.barrel;
  Sentences steps;
  for (melt::BarrelSection const& section : barrel.sections) {
    std::string const core = section.screw_core_mm > 0
                                 ? fmt::format(" round a core of {} mm", section.screw_core_mm)
                                 : std::string{};
    steps.push_back(fmt::format("{} mm of {} mm bore{}", section.length_mm, section.bore_mm, core));
  }
  if (barrel.tip_gap_mm > 0)
    steps.push_back(fmt::format("{} mm free to the nozzle", barrel.tip_gap_mm));
  std::string const tube =
      barrel.tube_melt_mm3 > 0
          ? fmt::format(", {:.0f} mm³ of it in the tube to the hopper", barrel.tube_melt_mm3)
          : std::string{};
  review.describes.push_back(fmt::format("Barrel: {}; it holds {:.0f} mm³ of melt{}.",
                                         fmt::join(steps, ", then "),
                                         *review.melt_volume_mm3,
                                         barrel.melt_volume_mm3 ? ", as measured" : tube));
  Sentences residences;
  double const top = profile.bounds.max_flow_mm3_s.value_or(10);
  for (double const flow : {0.2 * top, 0.5 * top, top})
    residences.push_back(fmt::format("{:.0f} s at {} mm³/s",
                                     melt::mean_residence_s(*review.melt_volume_mm3, flow),
                                     in_figures(flow)));
  review.describes.push_back(
      fmt::format("The melt stays hot for {}.", fmt::join(residences, ", ")));
}

void describe_nozzle(Profile const& profile, Review& review) {
  if (!profile.nozzle) return;
  std::string text = fmt::format("Nozzle: {} mm, hole {} mm long",
                                 profile.nozzle->diameter_mm,
                                 profile.nozzle->hole_length_mm);
  if (review.parts)
    text += fmt::format("; at {} mm³/s the melt presses with {} MPa and the screw with {:.0f} N",
                        in_figures(review.parts->law.at_flow_mm3_s),
                        in_figures(review.parts->pressure_mpa),
                        review.parts->thrust_n);
  review.describes.push_back(text + ".");
}

void describe_parts(Profile const& profile, Review& review) {
  if (profile.mechanics.empty()) return;
  Sentences parts;
  for (std::size_t i = 0; i < profile.mechanics.size(); ++i) {
    melt::Part const& part = profile.mechanics[i];
    if (part.n_per_mm)
      parts.push_back(fmt::format(
          "{} {}",
          part.name,
          with_deviation(*part.n_per_mm,
                         deviation(profile, fmt::format("mechanics.parts[{}].n_per_mm", i)),
                         "N/mm")));
    else
      parts.push_back(fmt::format("{} gives {} mm at {} mm³/s",
                                  part.name,
                                  in_figures(*part.deflection_mm),
                                  in_figures(*part.at_flow_mm3_s)));
  }
  review.describes.push_back(
      fmt::format("The screw's thrust is held by: {}.", fmt::join(parts, ", ")));
}

void describe_material(Profile const& profile, Review& review) {
  MaterialFacts const& facts = profile.material;
  Sentences known;
  if (facts.density_g_cm3)
    known.push_back(fmt::format("{} g/cm³", in_figures(*facts.density_g_cm3)));
  if (facts.bulk_modulus_mpa)
    known.push_back(fmt::format("bulk modulus {} MPa", in_figures(*facts.bulk_modulus_mpa)));
  if (facts.consistency_pa_sn && facts.flow_index)
    known.push_back(fmt::format("{} Pa·sⁿ with flow index {}",
                                in_figures(*facts.consistency_pa_sn),
                                in_figures(*facts.flow_index)));
  if (known.empty()) return;
  review.describes.push_back(fmt::format(
      "Material{}{}: {}.", facts.name.empty() ? "" : " ", facts.name, fmt::join(known, ", ")));
}

void describe_lag(Profile const& profile, Review& review) {
  if (!review.law) return;
  melt::LagLaw const& law = *review.law;
  bool const measured = review.source == Source::measured;
  std::string const run_on = with_deviation(
      law.run_on_mm3, measured ? deviation(profile, "lag.run_on_mm3") : std::nullopt, "mm³");
  review.describes.push_back(
      fmt::format("{}: after a steady {} mm³/s, {} still run on when the screw stops.",
                  measured ? "Lag as measured" : "Lag as the parts explain it",
                  in_figures(law.at_flow_mm3_s),
                  run_on));
  Sentences lags;
  for (LagAtFlow const& lag : review.lags)
    lags.push_back(fmt::format("{} at {} mm³/s",
                               with_deviation(lag.lag_s, lag.lag_sd_s, "s"),
                               in_figures(lag.flow_mm3_s)));
  review.describes.push_back(fmt::format("The outflow lags by {}.", fmt::join(lags, ", ")));
}

void describe_causes(Profile const& profile, Review& review) {
  if (!review.parts) return;
  melt::PartsLag const& parts = *review.parts;
  Sentences causes;
  for (melt::Share const& share : parts.shares) {
    std::string name = share.name;
    if (share.kind == melt::ShareKind::melt) name = "the melt itself";
    if (share.kind == melt::ShareKind::air) name = "trapped air";
    causes.push_back(fmt::format("{} {} mm³", name, in_figures(share.run_on_mm3)));
  }
  std::string text =
      fmt::format("Of the run-on the parts explain {} mm³", in_figures(parts.law.run_on_mm3));
  if (profile.measured_lag)
    text +=
        fmt::format(" ({:.0f} %)", 100 * parts.law.run_on_mm3 / profile.measured_lag->run_on_mm3);
  review.describes.push_back(
      fmt::format("{}: {}. The pressure is taken to push on the whole bore; if only on the "
                  "screw, {} mm³.",
                  text,
                  fmt::join(causes, ", "),
                  in_figures(parts.least_run_on_mm3)));
}

std::string supply_words(Bounds const& bounds,
                         std::optional<double> burst_sd,
                         std::optional<double> flow_sd) {
  std::string text = fmt::format("the screw feeds at most {} for long",
                                 with_deviation(*bounds.max_flow_mm3_s, flow_sd, "mm³/s"));
  if (bounds.burst_mm3.value_or(0) > 0)
    text += fmt::format("; {} stand ready for a burst",
                        with_deviation(*bounds.burst_mm3, burst_sd, "mm³"));
  else if (bounds.burst_mm3)
    text += "; nothing stands ready for a burst";
  if (bounds.max_burst_mm3_s)
    text +=
        fmt::format(", in which it feeds at most {} mm³/s", in_figures(*bounds.max_burst_mm3_s));
  return text;
}

void describe_bounds(Profile const& profile, Review& review) {
  Bounds const& bounds = profile.bounds;
  Sentences known;
  if (bounds.max_flow_mm3_s)
    known.push_back(supply_words(bounds,
                                 deviation(profile, "limits.burst_mm3"),
                                 deviation(profile, "limits.max_flow_mm3_s")));
  else if (bounds.max_burst_mm3_s)
    known.push_back(fmt::format("in a burst the screw feeds at most {} mm³/s",
                                in_figures(*bounds.max_burst_mm3_s)));
  if (bounds.max_pressure_mpa)
    known.push_back(fmt::format("the melt bears {} MPa", *bounds.max_pressure_mpa));
  if (bounds.max_thrust_n)
    known.push_back(fmt::format("it bears {} N of thrust", *bounds.max_thrust_n));
  known.push_back(fmt::format("nothing is added below {} °C", bounds.cold_below_c));
  review.describes.push_back(fmt::format("Limits: {}.", fmt::join(known, ", ")));
}

void describe_machine(Profile const& profile, Review& review) {
  melt::Feed const& feed = profile.feed;
  std::optional<double> sd = deviation(profile, "feed.delivered_factor");
  if (sd) *sd *= 100;
  std::string text =
      fmt::format("Feed: the slicer assumes {} mm filament; {} of what the file asks for arrives",
                  feed.slicer_diameter_mm,
                  with_deviation(100 * feed.delivered_factor, sd, "%"));
  if (feed.backlash_mm > 0)
    text += fmt::format("; {} mm of E are lost at each reversal", feed.backlash_mm);
  review.describes.push_back(text + ".");
  motion::Limits const& limits = profile.limits;
  std::string const corners =
      limits.corner_rule == motion::CornerRule::jump
          ? fmt::format("corners with a jump of {} mm/s in X and {} mm/s in E",
                        limits.corner_jump_mm_s[0],
                        limits.corner_jump_mm_s[motion::axis_e])
          : fmt::format("corners rounded by {} mm", limits.corner_rounding_mm);
  review.describes.push_back(
      fmt::format("Printer: {} mm/s², {}, E up to {} mm/s, looks {} moves ahead.",
                  limits.acceleration_mm_s2,
                  corners,
                  limits.max_speed_mm_s[motion::axis_e],
                  profile.machine.buffer_moves));
}

}  // namespace

void describe(Profile const& profile, Review& review) {
  describe_barrel(profile, review);
  describe_nozzle(profile, review);
  describe_parts(profile, review);
  describe_material(profile, review);
  describe_lag(profile, review);
  describe_causes(profile, review);
  describe_machine(profile, review);
  describe_bounds(profile, review);
}

}  // namespace meltlag::profile
