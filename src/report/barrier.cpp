// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "meltlag/report/causes.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using nlohmann::json;

constexpr int picture_columns = 60;
constexpr std::size_t doubts_shown = 3;

double temperature_at(melt::BarrierState const& state, double at_mm) {
  auto const& points = state.temperatures;
  auto const next = std::ranges::lower_bound(points, at_mm, {}, &melt::BarrierPoint::at_mm);
  if (next == points.begin()) return points.front().temperature_c;
  if (next == points.end()) return points.back().temperature_c;
  auto const before = next - 1;
  double const part = (at_mm - before->at_mm) / (next->at_mm - before->at_mm);
  return before->temperature_c + part * (next->temperature_c - before->temperature_c);
}

double length_of(melt::BarrierState const& state) { return state.temperatures.back().at_mm; }

// "hopper |......~~~~| hot end": granules and melt along the tube.
std::string picture(BarrierPage const& page) {
  double const length = length_of(page.working);
  std::string bar = "hopper |";
  for (int i = 0; i < picture_columns; ++i) {
    double const c = temperature_at(page.working, length * (i + 0.5) / picture_columns);
    bar += c >= page.barrier.softens_c ? '~' : '.';
  }
  return bar + "| hot end\n";
}

std::string softening_text(BarrierPage const& page) {
  double const length = length_of(page.working);
  melt::BarrierSpread const& spread = page.spread;
  if (page.working.softens_at_mm)
    return fmt::format(
        "Granules turn to melt ({:g} °C) {} mm from the hopper's end of {:g} mm; at "
        "rest the place is {} mm.",
        page.barrier.softens_c,
        plus_minus(*page.working.softens_at_mm, spread.softens_at_mm.sd),
        length,
        page.resting.softens_at_mm ? plus_minus(*page.resting.softens_at_mm, 0)
                                   : "not in the tube, it is");
  return page.working.melt_mm3 > 0
             ? "The whole tube is hot enough to melt granules: it will clog at the hopper."
             : "Granules stay hard throughout the tube.";
}

// Where they begin to stick, and whether that makes a plug.
std::string plug_text(BarrierPage const& page) {
  auto const working = melt::plug_risk(page.barrier, page.working.flow_mm3_s);
  if (!working) return {};
  melt::PlugRisk const resting = *melt::plug_risk(page.barrier, 0);
  std::string text = fmt::format(
      "Granules begin to stick ({:g} °C) {} mm from the hopper's end, {} mm at rest; over {} mm, "
      "{:.1f} "
      "times the bore, they stick without having melted. ",
      *page.barrier.sticks_c,
      plus_minus(working->sticks_at_mm, 0),
      plus_minus(resting.sticks_at_mm, 0),
      plus_minus(working->sticky_mm, 0),
      working->sticky_mm / working->bore_mm);
  if (!working->risk && !resting.risk)
    return text + "No risk of a plug in the cold zone, not even at rest.";
  auto const below = melt::risky_below_mm3_s(page.barrier);
  if (!below) return text + "Risk of a plug in the cold zone at any flow: cool the throat.";
  return text + fmt::format(
                    "{} of a plug in the cold zone at {:g} mm³/s; there is one below {} mm³/s "
                    "and in pauses.",
                    working->risk ? "Risk" : "No risk",
                    page.working.flow_mm3_s,
                    plus_minus(*below, 0));
}

std::string melt_words(BarrierPage const& page) {
  melt::Uncertain const melt = page.spread.melt_mm3;
  double const whole = melt.value + page.sections_mm3;
  std::string text = fmt::format("Melt in the tube {} mm³, with what is below it {} mm³",
                                 plus_minus(melt.value, melt.sd),
                                 plus_minus(whole, melt.sd));
  if (page.measured_melt_mm3)
    text += fmt::format("; measured {}", plus_minus(*page.measured_melt_mm3, 0));
  if (page.spread.doubts.empty()) return text + ".";
  auto const count = std::min(doubts_shown, page.spread.doubts.size());
  return text + fmt::format(". Most of the ± comes from {}.",
                            fmt::join(page.spread.doubts.begin(),
                                      page.spread.doubts.begin() + static_cast<long>(count),
                                      ", "));
}

json state_json(melt::BarrierState const& state) {
  json points = json::array();
  for (melt::BarrierPoint const& point : state.temperatures)
    points.push_back({{"at_mm", point.at_mm}, {"c", point.temperature_c}});
  json out = {{"flow_mm3_s", state.flow_mm3_s},
              {"leak_w", state.leak_w},
              {"from_hot_end_w", state.from_hot_end_w},
              {"wall_w", state.wall_w},
              {"core_w", state.core_w},
              {"plastic_w", state.plastic_w},
              {"melt_mm3", state.melt_mm3},
              {"temperatures", points}};
  if (state.softens_at_mm) out["softens_at_mm"] = *state.softens_at_mm;
  return out;
}

}  // namespace

std::string to_text(BarrierPage const& page) {
  std::string out = "Heat barrier, from the hopper to the hot end\n";
  Table const table{{{"step", "", 24, Align::left},
                     {"length", "mm", 8},
                     {"wall", "mm²", 8},
                     {"core", "mm²", 8},
                     {"plastic", "mm²", 8}}};
  out += table.header();
  for (melt::TubeStep const& step : page.barrier.steps) {
    melt::TubeAreas const a = melt::areas(step);
    std::string const name = step.material.empty()
                                 ? fmt::format("{:g} W/(m·K)", step.conductivity_w_m_k)
                                 : step.material;
    table.append_row(out,
                     {cut_to(name, 24),
                      number(step.length_mm, 2),
                      fixed(a.wall, 2),
                      fixed(a.core, 2),
                      fixed(a.plastic, 2)});
  }
  return out + picture(page) + item_list(findings(page));
}

Sentences findings(BarrierPage const& page) {
  melt::BarrierState const& s = page.working;
  Sentences out = {fmt::format("Heat that leaks to the hopper: {} W at {:g} mm³/s, {} W at rest; "
                               "wall {} W, screw {} W, plastic {} W. The hot end gives {} W.",
                               plus_minus(page.spread.leak_w.value, page.spread.leak_w.sd),
                               s.flow_mm3_s,
                               plus_minus(page.resting.leak_w, 0),
                               plus_minus(s.wall_w, 0),
                               plus_minus(s.core_w, 0),
                               plus_minus(s.plastic_w, 0),
                               plus_minus(s.from_hot_end_w, 0)),
                   softening_text(page)};
  if (std::string plug = plug_text(page); !plug.empty()) out.push_back(std::move(plug));
  out.push_back(melt_words(page));
  return out;
}

json to_json(BarrierPage const& page) {
  json steps = json::array();
  for (melt::TubeStep const& step : page.barrier.steps)
    steps.push_back({{"length_mm", step.length_mm},
                     {"inner_mm", step.inner_mm},
                     {"outer_mm", step.outer_mm},
                     {"screw_core_mm", step.screw_core_mm},
                     {"conductivity_w_m_k", step.conductivity_w_m_k},
                     {"material", step.material}});
  json out = {{"tube", steps},
              {"hot_end_c", page.barrier.hot_end_c},
              {"cold_end_c", page.barrier.cold_end_c},
              {"softens_c", page.barrier.softens_c},
              {"working", state_json(page.working)},
              {"resting", state_json(page.resting)},
              {"leak_sd_w", page.spread.leak_w.sd},
              {"softens_at_sd_mm", page.spread.softens_at_mm.sd},
              {"melt_sd_mm3", page.spread.melt_mm3.sd},
              {"doubts", page.spread.doubts},
              {"sections_mm3", page.sections_mm3}};
  if (auto const plug = melt::plug_risk(page.barrier, page.working.flow_mm3_s)) {
    out["sticks_c"] = *page.barrier.sticks_c;
    out["plug"] = {{"sticks_at_mm", plug->sticks_at_mm},
                   {"sticky_mm", plug->sticky_mm},
                   {"risk", plug->risk},
                   {"in_words", plug_text(page)}};
  }
  if (page.measured_melt_mm3) out["measured_melt_mm3"] = *page.measured_melt_mm3;
  return out;
}

}  // namespace meltlag::report
