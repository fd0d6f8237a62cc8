// SPDX-License-Identifier: MIT
#include "meltlag/report/calibration.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string_view>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using fit::Extra;
using fit::ExtraOutcome;
using fit::FitResult;
using fit::FlowLag;
using fit::RowOutcome;
using fit::RowVerdict;
using fit::Value;
using reading::ReadingKind;

constexpr double two_sided_95 = 1.96;  // standard deviations of a normal distribution
constexpr double enough_share = 0.1;   // ± of the run-on that a schedule bears (tests/reference)
constexpr double enough_factor_sd = 0.015, enough_wander = 0.05;

// So many decimals that the ± shows two figures.
int decimals_for(double sd) {
  if (!(sd > 0) || !std::isfinite(sd)) return 2;
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(sd))), 0, 5);
}
std::string plus_minus(Value const& value) {
  int const decimals = decimals_for(value.sd);
  return fmt::format("{} ± {}", fixed(value.value, decimals), fixed(value.sd, decimals));
}
// A quantity that cannot be negative: its logarithm is taken as normal.
std::string interval(Value const& value) {
  double const times = std::exp(two_sided_95 * value.sd / value.value);
  int const decimals = decimals_for(value.sd);
  return fmt::format(
      "{} to {}", fixed(value.value / times, decimals), fixed(value.value * times, decimals));
}
std::string plain_interval(Value const& value) {
  int const decimals = decimals_for(value.sd);
  return fmt::format("{} to {}",
                     fixed(value.value - two_sided_95 * value.sd, decimals),
                     fixed(value.value + two_sided_95 * value.sd, decimals));
}

std::string first_line(FitResult const& fit) {
  std::string lags;
  for (FlowLag const& lag : fit.at_flows)
    lags += fmt::format(
        "{}{} s at {}", lags.empty() ? "" : ", ", plus_minus(lag.lag_s), number(lag.flow_mm3_s, 1));
  return fmt::format("After a stop {} mm³ run on (from {} mm³/s); lag {} mm³/s.\n",
                     plus_minus(fit.run_on_mm3),
                     number(fit.law.at_flow_mm3_s, 2),
                     lags);
}

std::string estimates(FitResult const& fit) {
  Table const table(
      {{"", "", 28, Align::left}, {"estimate ±", "", 20}, {"95 of 100 within", "", 22}});
  std::string out = "\n" + table.header();
  out.erase(out.rfind('\n', out.size() - 2) + 1);  // no line of units: they stand with the names
  table.append_row(out,
                   {fmt::format("run-on at {} mm³/s, mm³", number(fit.law.at_flow_mm3_s, 2)),
                    plus_minus(fit.run_on_mm3),
                    interval(fit.run_on_mm3)});
  table.append_row(out, {"flow index", plus_minus(fit.flow_index), plain_interval(fit.flow_index)});
  for (FlowLag const& lag : fit.at_flows)
    table.append_row(out,
                     {fmt::format("lag at {} mm³/s, s", number(lag.flow_mm3_s, 1)),
                      plus_minus(lag.lag_s),
                      interval(lag.lag_s)});
  table.append_row(
      out, {"delivered factor", plus_minus(fit.delivered_factor), interval(fit.delivered_factor)});
  for (ExtraOutcome const& extra : fit.extras)
    if (extra.taken)
      table.append_row(
          out, {name_of(extra.extra), plus_minus(extra.value), plain_interval(extra.value)});
  return out;
}

std::string_view unit_words(Extra extra) {
  switch (extra) {
    case Extra::backlash:
      return "mm of E that turn without effect after each reversal";
    case Extra::reverse_factor:
      return "of what a forward stroke fills is relieved by a reverse one";
    case Extra::leak:
      return "of the run-on leak back each second";
    case Extra::creep:
      return "of the run-on are stored slowly (20 s assumed)";
    case Extra::pulsation:
      return "of the flow, up and down with each turn of the screw";
  }
  return "";
}

std::string extras(FitResult const& fit) {
  std::string taken, not_needed, not_shown;
  for (ExtraOutcome const& extra : fit.extras) {
    char const* const name = name_of(extra.extra);
    if (extra.taken)
      taken +=
          list_item(fmt::format("{}: {} {}. Without it readings like these would come about in "
                                "{} of 1000 cases.",
                                name,
                                plus_minus(extra.value),
                                unit_words(extra.extra),
                                fixed(1000 * extra.chance, 1)));
    else if (extra.tried)
      not_needed += fmt::format("{}{}", not_needed.empty() ? "" : ", ", name);
    else
      not_shown += fmt::format("{}{}", not_shown.empty() ? "" : ", ", name);
  }
  std::string out = "\nBeyond the lag\n" + taken;
  if (!not_needed.empty()) out += list_item("The readings do not ask for: " + not_needed + ".");
  if (!not_shown.empty())
    out += list_item("Known already, or not shown by this print: " + not_shown + ".");
  return out;
}

std::string row_text(RowOutcome const& row) {
  std::string const unit = row.kind == ReadingKind::mass ? "g" : "mm";
  std::string const where =
      row.kind == ReadingKind::mass
          ? std::string{name_of(row.kind)}
          : fmt::format(
                "{} at {} mm of trace {}", name_of(row.kind), number(row.ruler_mm, 0), row.trace);
  return fmt::format("row {}, {}: measured {} {}, the fit says {} ± {}",
                     row.row,
                     where,
                     number(row.measured, 2),
                     unit,
                     fixed(row.predicted, 2),
                     fixed(row.sd, 2));
}

std::string doubtful_rows(FitResult const& fit) {
  std::string out;
  std::string thin;
  for (RowOutcome const& row : fit.rows) {
    if (row.thin) thin += fmt::format("{}{}", thin.empty() ? "" : ", ", row.row);
    if (row.verdict == RowVerdict::queried)
      out += list_item(row_text(row) +
                       ". No plausible machine gives that: wrong trace or place, or a slip of the "
                       "pen? Hardly counted.");
    if (row.verdict == RowVerdict::looks_wrong)
      out += list_item(row_text(row) + ". Measure it again; hardly counted.");
    if (row.verdict == RowVerdict::feed_trouble)
      out += list_item(row_text(row) +
                       ". Too thin, and its copies are not: that is the hopper, not the lag. Left "
                       "out.");
  }
  if (!thin.empty())
    out += list_item(
        fmt::format("Thinner than a layer is high, so counted with twice the error: {} {}.",
                    thin.find(',') == std::string::npos ? "row" : "rows",
                    thin));
  return out.empty() ? out : "\nReadings to look at\n" + out;
}

std::string drift(FitResult const& fit) {
  if (!fit.drift_known)
    return list_item(
        "Drift from start to end of the piece is not known: it takes two readings on "
        "first and two on last copies.");
  std::string const amount =
      fmt::format("{} ± {} %", fixed(100 * fit.drift.value, 1), fixed(100 * fit.drift.sd, 1));
  bool const drifts = std::abs(fit.drift.value) > two_sided_95 * fit.drift.sd;
  return list_item(fmt::format("Width from the first copies to the last: {}. {}",
                               amount,
                               drifts ? "The feed drifts: see to hopper and heat, then print again."
                                      : "No drift beyond what measuring scatters."));
}

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
    return list_item(
        fmt::format("No pulsation with the screw's turn ({:g} mm of E): {} of the flow at most.",
                    pulse.e_mm_per_turn,
                    percent(pulse.share.value + two_sided_95 * pulse.share.sd)));
  return list_item(
      fmt::format("The flow pulses by {} up and down with each turn of the screw ({:g} mm of E). "
                  "That alone misplaces {} of the plastic.",
                  share_plus_minus(pulse.share),
                  pulse.e_mm_per_turn,
                  percent(misplaced_by_pulse(pulse))));
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

std::string screw_text(fit::BurstOutcome const& bursts) {
  std::string const heading = "\nWhat the screw can do\n";
  if (!bursts.starves)
    return heading +
           list_item(fmt::format("Bursts at {} mm³/s do not show the screw's limit: it cannot be "
                                 "told from this print.",
                                 number(bursts.asked_mm3_s, 1)));
  return heading +
         list_item(fmt::format("For long it feeds {} mm³/s (max_flow_mm3_s).",
                               plus_minus(bursts.max_flow_mm3_s))) +
         list_item(store_text(bursts));
}

nlohmann::json json_of(Value const& value) { return {{"value", value.value}, {"sd", value.sd}}; }

nlohmann::json json_of(fit::BurstOutcome const& bursts) {
  static constexpr char const* stores[] = {"told", "none seen", "at least", "cannot tell"};
  nlohmann::json out{{"starves", bursts.starves}, {"asked_mm3_s", bursts.asked_mm3_s}};
  if (!bursts.starves) return out;
  out["max_flow_mm3_s"] = json_of(bursts.max_flow_mm3_s);
  out["burst_mm3"] = json_of(bursts.burst_mm3);
  out["burst_mm3_within"] = {bursts.low_mm3, bursts.high_mm3};
  out["store"] = stores[static_cast<std::size_t>(bursts.store)];
  return out;
}

nlohmann::json json_of(fit::TurnPulse const& pulse) {
  return {{"e_mm_per_turn", pulse.e_mm_per_turn},
          {"share", json_of(pulse.share)},
          {"most_at_turn", pulse.most_at_turn},
          {"chance", pulse.chance}};
}

// What a picture tells beside the lag.
std::string enough_of_picture(FitResult const& fit) {
  fit::DenseOutcome const& dense = *fit.dense;
  std::string out =
      list_item(fmt::format("{} widths off a picture; {} of purge, lead-in and bursts are left "
                            "aside. ± is from the scatter "
                            "of blocks of path, not of single widths, whose errors are alike.",
                            fit.readings,
                            dense.left_out));
  out +=
      list_item(fmt::format("Layer height {} mm in the middle; 90 mm further out {} mm in X, {} mm "
                            "in Y, {} mm by its bow.",
                            plus_minus(dense.height_mm),
                            plus_minus(dense.slope_x_mm),
                            plus_minus(dense.slope_y_mm),
                            plus_minus(dense.bow_mm)));
  out +=
      list_item(fmt::format("Every width is off by {} mm for the light's sake; by up to {} mm more "
                            "or less with the bead's "
                            "direction.",
                            plus_minus(dense.edge_offset_mm),
                            fixed(dense.shade_mm.value, 3)));
  if (dense.wander_mm > 0.005)
    out += list_item(
        fmt::format("Widths wander by {} mm ({} of the bead) over some {} mm, {} s: feed, "
                    "or a bed's unevenness in the small. That alone misplaces {} of the "
                    "plastic; no schedule can take it out.",
                    fixed(dense.wander_mm, 3),
                    percent(dense.wander_share),
                    fixed(dense.alike_over_mm, 0),
                    fixed(dense.alike_over_s, 1),
                    percent(misplaced_by_wander(dense))));
  if (dense.pulse) out += pulse_text(*dense.pulse);
  return out +
         list_item(fmt::format("The run-on is known to ± {} %. The delivered factor comes from a "
                               "scale (calibrate feed); run-on and index hardly need it.",
                               fixed(100 * fit.run_on_mm3.sd / fit.run_on_mm3.value, 0)));
}

std::string enough(FitResult const& fit) {
  std::string out = "\nHow sure it is\n";
  for (std::string const& name : fit.not_determined)
    out += list_item(fmt::format(
        "The {} is not determined by these readings: its ± is what was plausible beforehand.",
        name));
  if (fit.dense)
    return out + enough_of_picture(fit) +
           (fit.dense->bursts ? screw_text(*fit.dense->bursts) : std::string());
  if (fit.scatter > 1.3)
    out += list_item(
        fmt::format("The readings scatter {} times as much as calipers do; every ± above is "
                    "that much wider.",
                    fixed(fit.scatter, 1)));
  out += drift(fit);
  double const share = fit.run_on_mm3.sd / fit.run_on_mm3.value;
  if (fit.readings_for_ten_percent == 0)
    out += list_item(fmt::format("Enough: the run-on is known to ± {} %.", fixed(100 * share, 0)));
  else
    out += list_item(
        fmt::format("The run-on is known to ± {} %. Some {} more readings like these would make it "
                    "± 10 %, some {} more would halve it.",
                    fixed(100 * share, 0),
                    fit.readings_for_ten_percent,
                    3 * fit.readings));
  return out;
}

std::string details_of(FitResult const& fit) {
  std::string out = "\nEvery reading\n";
  Table const table({{"row", "", 4},
                     {"trace", "", 6},
                     {"ruler", "mm", 6},
                     {"kind", "", 14, Align::left},
                     {"measured", "mm, g", 9},
                     {"fit", "mm, g", 9},
                     {"±", "mm, g", 7},
                     {"off by", "±", 7},
                     {"counted", "", 7}});
  out += table.header();
  for (RowOutcome const& row : fit.rows)
    table.append_row(out,
                     {std::to_string(row.row),
                      row.trace,
                      number(row.ruler_mm, 0),
                      std::string{name_of(row.kind)},
                      fixed(row.measured, 3),
                      fixed(row.predicted, 3),
                      fixed(row.sd, 3),
                      fixed((row.measured - row.predicted) / row.sd, 2),
                      fixed(row.counted, 2)});
  out += "\nLayer heights\n";
  for (fit::TraceHeight const& height : fit.heights)
    out += list_item(fmt::format("trace {}: {} mm", height.trace, plus_minus(height.height_mm)));
  out +=
      fmt::format("\nScatter {} of what was assumed, {} readings, {} unknowns besides heights.\n",
                  fixed(fit.scatter, 2),
                  fit.readings,
                  fit.free_parameters);
  if (fit.correlations.empty()) return out + "No two unknowns are correlated by more than 0.8.\n";
  out += "Correlations above 0.8:\n";
  for (std::string const& correlation : fit.correlations) out += list_item(correlation);
  return out;
}

std::string_view word_of(RowVerdict verdict) {
  switch (verdict) {
    case RowVerdict::fine:
      return "fine";
    case RowVerdict::queried:
      return "queried";
    case RowVerdict::looks_wrong:
      return "looks wrong";
    case RowVerdict::feed_trouble:
      return "feed trouble";
  }
  return "";
}

nlohmann::json json_of(ExtraOutcome const& extra) {
  nlohmann::json out{{"name", name_of(extra.extra)},
                     {"taken", extra.taken},
                     {"tried", extra.tried},
                     {"chance", extra.chance}};
  if (extra.taken) out["estimate"] = json_of(extra.value);
  return out;
}

nlohmann::json json_of(RowOutcome const& row) {
  return {{"row", row.row},
          {"trace", row.trace},
          {"ruler_mm", row.ruler_mm},
          {"kind", name_of(row.kind)},
          {"measured", row.measured},
          {"predicted", row.predicted},
          {"sd", row.sd},
          {"counted", row.counted},
          {"verdict", word_of(row.verdict)}};
}

}  // namespace

std::string to_text(FitResult const& fit, Details details) {
  std::string out =
      first_line(fit) + estimates(fit) + extras(fit) + doubtful_rows(fit) + enough(fit);
  if (details == Details::shown) out += details_of(fit);
  return out;
}

nlohmann::json to_json(FitResult const& fit) {
  nlohmann::json out{{"run_on_mm3", json_of(fit.run_on_mm3)},
                     {"at_flow_mm3_s", fit.law.at_flow_mm3_s},
                     {"flow_index", json_of(fit.flow_index)},
                     {"run_on_index_correlation", fit.run_on_index_correlation},
                     {"delivered_factor", json_of(fit.delivered_factor)},
                     {"scatter", fit.scatter},
                     {"readings", fit.readings},
                     {"not_determined", fit.not_determined},
                     {"more_readings_for_10_percent", fit.readings_for_ten_percent}};
  for (FlowLag const& lag : fit.at_flows)
    out["lag"].push_back({{"flow_mm3_s", lag.flow_mm3_s},
                          {"run_on_mm3", json_of(lag.run_on_mm3)},
                          {"lag_s", json_of(lag.lag_s)}});
  for (ExtraOutcome const& extra : fit.extras) out["beyond_the_lag"].push_back(json_of(extra));
  for (RowOutcome const& row : fit.rows) out["rows"].push_back(json_of(row));
  for (fit::TraceHeight const& height : fit.heights)
    out["layer_heights"].push_back({{"trace", height.trace}, {"mm", json_of(height.height_mm)}});
  if (fit.dense)
    out["picture"] = {{"layer_height_mm", json_of(fit.dense->height_mm)},
                      {"slope_x_mm", json_of(fit.dense->slope_x_mm)},
                      {"slope_y_mm", json_of(fit.dense->slope_y_mm)},
                      {"bow_mm", json_of(fit.dense->bow_mm)},
                      {"edge_offset_mm", json_of(fit.dense->edge_offset_mm)},
                      {"shade_mm", json_of(fit.dense->shade_mm)},
                      {"wander_mm", fit.dense->wander_mm},
                      {"alike_over_mm", fit.dense->alike_over_mm},
                      {"wander_share", fit.dense->wander_share},
                      {"alike_over_s", fit.dense->alike_over_s},
                      {"left_out", fit.dense->left_out}};
  if (fit.dense && fit.dense->bursts) out["picture"]["bursts"] = json_of(*fit.dense->bursts);
  if (fit.dense && fit.dense->pulse) out["picture"]["pulsation"] = json_of(*fit.dense->pulse);
  if (fit.drift_known) out["drift_share"] = json_of(fit.drift);
  return out;
}

std::vector<std::string> next_measurements(FitResult const& fit) {
  std::vector<std::string> out;
  double const share = fit.run_on_mm3.sd / fit.run_on_mm3.value;
  bool const enough = share <= enough_share && fit.not_determined.empty();
  out.push_back(
      fmt::format("The run-on is known to ± {}: {}.",
                  percent(share),
                  enough ? "enough to adapt files with" : "what follows would make it better"));
  std::string again;
  for (RowOutcome const& row : fit.rows)
    if (row.verdict != RowVerdict::fine)
      again += fmt::format("{}{}", again.empty() ? "" : ", ", row.row);
  if (!again.empty()) out.push_back(fmt::format("Measure again: row {}.", again));
  for (std::string const& name : fit.not_determined)
    out.push_back(
        fmt::format("The {} is not determined: read the run-outs and the largest steps, "
                    "or print a piece with a greater range of speeds.",
                    name));
  if (fit.dense && !enough)
    out.emplace_back(
        "Print another piece with another --seed: two pictures make every ± a third smaller.");
  if (!fit.dense && fit.readings_for_ten_percent > 0)
    out.push_back(fmt::format(
        "Some {} more readings make it ± 10 %: take the next rows of the sheet, which stand in the "
        "order of their worth. A picture of the ring piece reads thousands at once.",
        fit.readings_for_ten_percent));
  if (fit.delivered_factor.sd > enough_factor_sd * fit.delivered_factor.value)
    out.push_back(
        fmt::format("Weigh cups (calibrate feed): the delivered factor is known to ± {}, "
                    "which goes straight into every bead.",
                    percent(fit.delivered_factor.sd / fit.delivered_factor.value)));
  if (fit.dense && fit.dense->wander_share > enough_wander)
    out.push_back(
        fmt::format("See to hopper and heat: the feed wanders by {}, and that is more "
                    "than a schedule can win back.",
                    percent(fit.dense->wander_share)));
  if (!fit.dense && !fit.drift_known)
    out.emplace_back("Read two places each on first and last copies: they tell a drift.");
  return out;
}

std::string to_text(fit::ReadingPlan const& plan) {
  Table const table({{"a machine with", "", 34, Align::left},
                     {"run-on", "mm³", 12},
                     {"lag", "s", 14},
                     {"flow index", "", 12}});
  std::string out =
      fmt::format("Expected from the first {} rows of the sheet, each ±:\n", plan.chosen);
  out += table.header();
  for (fit::ExpectedPrecision const& one : plan.expected)
    table.append_row(
        out,
        {fmt::format(
             "{} mm³ of run-on at {} mm³/s", number(one.run_on_mm3, 1), number(one.flow_mm3_s, 1)),
         fmt::format("± {}", fixed(one.run_on_sd_mm3, 2)),
         fmt::format("{} ± {}", fixed(one.lag_s, 3), fixed(one.lag_sd_s, 3)),
         fmt::format("± {}", fixed(one.flow_index_sd, 2))});
  return out;
}

}  // namespace meltlag::report
