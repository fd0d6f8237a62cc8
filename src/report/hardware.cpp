// SPDX-License-Identifier: MIT
#include "meltlag/report/hardware.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/build_json.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/shown.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using compare::Comparison;
using fit::HardwareSpread;
using fit::Spread;
using nlohmann::json;

std::string mean(Spread const& spread) {
  if (spread.count == 0) return "none read";
  return plus_minus(spread.mean, spread.mean_sd);
}

std::string scatter(Spread const& spread) {
  return spread.sd > 0 ? fmt::format("{:.2g}", spread.sd) : "";
}

std::string ball(Spread const& blob) {
  return blob.count > 0 ? fixed(fit::ball_mm(blob.mean), 2) : "";
}

std::string print_text(HardwarePrint const& print) {
  HardwareSpread const& spread = print.spread;
  std::string out = fmt::format(
      "{}: {} blobs, {} gaps\n", print.name, spread.blob_mm3.count, spread.gap_mm.count);
  Table const table{{{"flow", "mm³/s", 8, Align::left},
                     {"blob", "mm³", 17},
                     {"scatter", "mm³", 9},
                     {"as a ball", "mm", 10},
                     {"gap", "mm", 17},
                     {"scatter", "mm", 9}}};
  out += table.header();
  auto const add = [&](std::string const& flow, Spread const& blob, Spread const& gap) {
    table.append_row(out, {flow, mean(blob), scatter(blob), ball(blob), mean(gap), scatter(gap)});
  };
  for (fit::FlowSpread const& at : spread.flows)
    add(number(at.flow_mm3_s, 2), at.blob_mm3, at.gap_mm);
  add("all", spread.blob_mm3, spread.gap_mm);
  return out + "\n";
}

std::string between_prints(std::vector<HardwarePrint> const& prints) {
  std::string out;
  auto const add = [&](char const* name, char const* unit, Spread HardwareSpread::*quantity) {
    std::vector<double> means;
    for (HardwarePrint const& print : prints)
      if ((print.spread.*quantity).count > 0) means.push_back((print.spread.*quantity).mean);
    if (means.size() < 2) return;
    compare::Sample const sample = compare::sample_of(means);
    out += list_item(fmt::format("{}: {} {} over {} prints, which scatter by {:.2g} {}.",
                                 name,
                                 plus_minus(sample.mean, sample.mean_sd()),
                                 unit,
                                 sample.prints,
                                 sample.sd,
                                 unit));
  };
  add("Blob", "mm³", &HardwareSpread::blob_mm3);
  add("Gap", "mm", &HardwareSpread::gap_mm);
  return out.empty() ? out : "Between prints\n" + out + "\n";
}

using Reason = std::string (*)(Comparison const&);

std::string verdict_text(HardwareVerdicts const& verdicts, char const* unit, Reason why) {
  Table const table{{{"", "", 10, Align::left},
                     {"old, ± scatter", unit, 20},
                     {"new, ± scatter", unit, 20},
                     {"difference", "± 95 %", 15},
                     {"verdict", "", 12, Align::left}}};
  std::string out = table.header(), reasons;
  auto const add = [&](char const* name, Comparison const& c) {
    if (c.old_build.prints + c.new_build.prints == 0) return;
    bool const both = c.old_build.prints > 0 && c.new_build.prints > 0;
    table.append_row(out,
                     {name,
                      shown(c.old_build),
                      shown(c.new_build),
                      both ? plus_minus(c.difference, c.margin) : "",
                      in_words(c.verdict)});
    std::string const reason = why(c);
    if (!reason.empty()) reasons += list_item(fmt::format("{}: {}", name, reason));
  };
  add("blob, mm³", verdicts.blob_mm3);
  add("gap, mm", verdicts.gap_mm);
  return out + reasons;
}

// The words of reason() are about prints.
std::string reason_of_stops(Comparison const& c) {
  if (c.verdict != compare::Verdict::cannot_tell) return {};
  if (c.why == compare::Why::no_scatter) return "all readings are equal: read one more digit.";
  if (c.why != compare::Why::tested) return "too few were measured.";
  if (!c.further) return "the difference is too small beside the scatter.";
  return fmt::format(
      "the difference lies within the scatter. If both are what they look like, it takes {} and {} "
      "more stops to tell these two prints apart, in {:.0f} of 100 cases.",
      c.further->old_build,
      c.further->new_build,
      100 * compare::power);
}

// A short comparison is worth something, but its scatter is hardly known: of n values to about
// 1/√(2(n − 1)) of itself (any textbook of statistics).
std::string few_words(HardwareVerdicts const& verdicts) {
  constexpr std::size_t few = 8;
  std::size_t fewest = few;
  for (compare::Comparison const* c : {&verdicts.blob_mm3, &verdicts.gap_mm})
    for (compare::Sample const* sample : {&c->old_build, &c->new_build})
      if (sample->prints > 0) fewest = std::min(fewest, sample->prints);
  if (fewest >= few) return {};
  return list_item(
      fmt::format("Few values: with {} stops the scatter is known to {:.0f} % of itself, so this "
                  "is less sure than "
                  "its ± says. More rows of the same two prints help.",
                  fewest,
                  fewest > 1 ? 100 / std::sqrt(2.0 * static_cast<double>(fewest - 1)) : 100.0));
}

std::string against_text(HardwareAgainst const& against) {
  std::string out = "Old prints\n\n";
  for (HardwarePrint const& print : against.prints) out += print_text(print);
  out += between_prints(against.prints);
  if (against.stops) {
    out += "These two prints, stop by stop\n" +
           verdict_text(*against.stops, "(stops)", reason_of_stops) +
           list_item(
               "This is about these two prints alone: the next print of the same build may differ "
               "by more than the stops of one print do.") +
           few_words(*against.stops) + "\n";
  }
  out += "The builds, one mean a print\n" + verdict_text(against.builds, "(prints)", reason);
  return out + list_item(
                   "A verdict on builds takes at least two prints of each and uses the scatter "
                   "between prints.");
}

json spread_json(Spread const& spread) {
  if (spread.count == 0) return nullptr;
  return {{"count", spread.count},
          {"mean", spread.mean},
          {"sd", spread.sd},
          {"mean_sd", spread.mean_sd}};
}

json blob_and_gap(Spread const& blob, Spread const& gap) {
  json out = {{"blob_mm3", spread_json(blob)}, {"gap_mm", spread_json(gap)}};
  if (blob.count > 0) out["ball_mm"] = fit::ball_mm(blob.mean);
  return out;
}

json prints_json(std::vector<HardwarePrint> const& prints) {
  json out = json::array();
  for (HardwarePrint const& print : prints) {
    json flows = json::array();
    for (fit::FlowSpread const& flow : print.spread.flows) {
      flows.push_back(blob_and_gap(flow.blob_mm3, flow.gap_mm));
      flows.back()["flow_mm3_s"] = flow.flow_mm3_s;
    }
    out.push_back({{"sheet", print.name},
                   {"flows", flows},
                   {"all", blob_and_gap(print.spread.blob_mm3, print.spread.gap_mm)}});
  }
  return out;
}

json stops_json(Comparison const& c) {
  json out = comparison_json(c);
  out["reason"] = reason_of_stops(c);
  for (char const* side : {"old", "new"}) {
    out[side]["stops"] = out[side]["prints"];
    out[side].erase("prints");
  }
  if (out.contains("more_prints")) {
    out["more_stops"] = out["more_prints"];
    out.erase("more_prints");
  }
  return out;
}

}  // namespace

std::string to_text(HardwarePage const& page) {
  std::string out;
  if (page.against) out += "New prints\n\n";
  for (HardwarePrint const& print : page.prints) out += print_text(print);
  out += between_prints(page.prints);
  if (page.against) out += against_text(*page.against) + "\n";
  for (char const* line :
       {"± is one standard deviation of a mean, scatter that of a single stop.",
        "A blob is taken as a disc as high as the layer, less what the bead covers of it; one "
        "that stands higher holds more. It is the same for every build."})
    out += list_item(line);
  out += item_list(page.remarks);
  return out;
}

json to_json(HardwarePage const& page) {
  json out = {{"prints", prints_json(page.prints)}, {"remarks", page.remarks}};
  if (!page.against) return out;
  HardwareAgainst const& against = *page.against;
  out["against"] = {{"prints", prints_json(against.prints)},
                    {"builds",
                     {{"blob_mm3", comparison_json(against.builds.blob_mm3)},
                      {"gap_mm", comparison_json(against.builds.gap_mm)}}}};
  if (against.stops)
    out["against"]["these_two_prints"] = {{"blob_mm3", stops_json(against.stops->blob_mm3)},
                                          {"gap_mm", stops_json(against.stops->gap_mm)}};
  return out;
}

}  // namespace meltlag::report
