// SPDX-License-Identifier: MIT
#include "picture_estimates.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "estimate.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using fit::Value;

// The mean absolute value of a normal error.
double misplaced_by_wander(fit::DenseOutcome const& dense) {
  return dense.wander_share * std::sqrt(2 / std::numbers::pi);
}

// The mean absolute value of a sine.
double misplaced_by_pulse(fit::TurnPulse const& pulse) {
  return pulse.share.value * 2 / std::numbers::pi;
}

std::string share_plus_minus(Value const& share) {
  return plus_minus(Value{100 * share.value, 100 * share.sd}) + " %";
}

constexpr double sure_chance = 0.01;

std::string pulse_text(fit::TurnPulse const& pulse) {
  if (pulse.chance > sure_chance)
    return fmt::format("No pulsation with the screw's turn ({:g} mm of E): {} of the flow at most.",
                       pulse.e_mm_per_turn,
                       percent(pulse.share.value + two_sided_95 * pulse.share.sd));
  return fmt::format(
      "The flow pulses by {} up and down with each turn of the screw ({:g} mm of E). "
      "That alone misplaces {} of the plastic.",
      share_plus_minus(pulse.share),
      pulse.e_mm_per_turn,
      percent(misplaced_by_pulse(pulse)));
}

std::string store_text(fit::BurstOutcome const& bursts) {
  using Store = fit::BurstOutcome::Store;
  switch (bursts.store) {
    case Store::told:
      return fmt::format(
          "The store for short bursts holds {} mm³ (burst_mm3; 95 of 100 within {} "
          "to {}).",
          plus_minus(bursts.burst_mm3),
          fixed(bursts.low_mm3, 2),
          fixed(bursts.high_mm3, 2));
    case Store::none_seen:
      return fmt::format("No store for short bursts is seen: {} mm³ at most.",
                         fixed(bursts.high_mm3, 2));
    case Store::at_least:
      return fmt::format("The store for short bursts holds {} mm³ at least.",
                         fixed(bursts.low_mm3, 1));
    case Store::cannot_tell:
      break;
  }
  return fmt::format("How large the store for short bursts is cannot be told: {} to {} mm³.",
                     fixed(bursts.low_mm3, 1),
                     fixed(bursts.high_mm3, 1));
}

nlohmann::json json_of(fit::BurstOutcome const& bursts) {
  static constexpr char const* stores[] = {"told", "none seen", "at least", "cannot tell"};
  nlohmann::json out{{"starves", bursts.starves}, {"asked_mm3_s", bursts.asked_mm3_s}};
  if (!bursts.starves) return out;
  out["max_flow_mm3_s"] = estimate_json(bursts.max_flow_mm3_s);
  out["burst_mm3"] = estimate_json(bursts.burst_mm3);
  out["burst_mm3_within"] = {bursts.low_mm3, bursts.high_mm3};
  out["store"] = stores[static_cast<std::size_t>(bursts.store)];
  return out;
}

nlohmann::json json_of(fit::TurnPulse const& pulse) {
  return {{"e_mm_per_turn", pulse.e_mm_per_turn},
          {"share", estimate_json(pulse.share)},
          {"most_at_turn", pulse.most_at_turn},
          {"chance", pulse.chance}};
}

}  // namespace

Sentences picture_findings(fit::FitResult const& fit) {
  fit::DenseOutcome const& dense = *fit.dense;
  Sentences out;
  out.push_back(
      fmt::format("{} widths off a picture; {} of purge, lead-in and bursts are left "
                  "aside. ± is from the scatter "
                  "of blocks of path, not of single widths, whose errors are alike.",
                  fit.readings,
                  dense.left_out));
  out.push_back(
      fmt::format("Layer height {} mm in the middle; 90 mm further out {} mm in X, {} mm "
                  "in Y, {} mm by its bow.",
                  plus_minus(dense.height_mm),
                  plus_minus(dense.slope_x_mm),
                  plus_minus(dense.slope_y_mm),
                  plus_minus(dense.bow_mm)));
  out.push_back(
      fmt::format("Every width is off by {} mm for the light's sake; by up to {} mm more "
                  "or less with the bead's "
                  "direction.",
                  plus_minus(dense.edge_offset_mm),
                  fixed(dense.shade_mm.value, 3)));
  if (dense.wander_mm > 0.005)
    out.push_back(
        fmt::format("Widths wander by {} mm ({} of the bead) over some {} mm, {} s: feed, "
                    "or a bed's unevenness in the small. That alone misplaces {} of the "
                    "plastic; no schedule can take it out.",
                    fixed(dense.wander_mm, 3),
                    percent(dense.wander_share),
                    fixed(dense.alike_over_mm, 0),
                    fixed(dense.alike_over_s, 1),
                    percent(misplaced_by_wander(dense))));
  if (dense.pulse) out.push_back(pulse_text(*dense.pulse));
  out.push_back(
      fmt::format("The run-on is known to ± {} %. The delivered factor comes from a "
                  "scale (calibrate feed); run-on and index hardly need it.",
                  fixed(100 * fit.run_on_mm3.sd / fit.run_on_mm3.value, 0)));
  return out;
}

Sentences screw_findings(fit::BurstOutcome const& bursts) {
  if (!bursts.starves)
    return {
        fmt::format("Bursts at {} mm³/s do not show the screw's limit: it cannot be told from "
                    "this print.",
                    number(bursts.asked_mm3_s, 1))};
  return {fmt::format("For long it feeds {} mm³/s (max_flow_mm3_s).",
                      plus_minus(bursts.max_flow_mm3_s)),
          store_text(bursts)};
}

nlohmann::json picture_json(fit::DenseOutcome const& dense) {
  nlohmann::json out = {{"layer_height_mm", estimate_json(dense.height_mm)},
                        {"slope_x_mm", estimate_json(dense.slope_x_mm)},
                        {"slope_y_mm", estimate_json(dense.slope_y_mm)},
                        {"bow_mm", estimate_json(dense.bow_mm)},
                        {"edge_offset_mm", estimate_json(dense.edge_offset_mm)},
                        {"shade_mm", estimate_json(dense.shade_mm)},
                        {"wander_mm", dense.wander_mm},
                        {"alike_over_mm", dense.alike_over_mm},
                        {"wander_share", dense.wander_share},
                        {"alike_over_s", dense.alike_over_s},
                        {"left_out", dense.left_out}};
  if (dense.bursts) out["bursts"] = json_of(*dense.bursts);
  if (dense.pulse) out["pulsation"] = json_of(*dense.pulse);
  return out;
}

}  // namespace meltlag::report
