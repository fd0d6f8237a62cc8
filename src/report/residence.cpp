// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/causes.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using nlohmann::json;

constexpr std::size_t histogram_columns = 40, places_shown = 5;

std::string class_name(std::size_t i) {
  double const low = i == 0 ? 0 : compare::residence_classes_s[i - 1],
               high = compare::residence_classes_s[i];
  auto const shown = [](double s) {
    return s < 60 ? fmt::format("{:g} s", s) : fmt::format("{:g} min", s / 60);
  };
  if (std::isinf(high)) return "over " + shown(low);
  return i == 0 ? "up to " + shown(high) : shown(low) + " – " + shown(high);
}

std::string histogram(compare::PrintResidence const& print) {
  Table const table{{{"plastic hot for", "", 18, Align::left},
                     {"of it", "%", 6},
                     {"", "", histogram_columns + 1, Align::left}}};
  std::string out = table.header();
  for (std::size_t i = 0; i < compare::residence_classes_s.size(); ++i) {
    double const share = print.histogram_mm3[i] / print.out_mm3;
    auto const wide = static_cast<std::size_t>(std::ceil(share * histogram_columns));
    table.append_row(out, {class_name(i), fixed(100 * share, 1), " " + std::string(wide, '#')});
  }
  return out;
}

char const* event_name(compare::Event event) {
  switch (event) {
    case compare::Event::heating:
      return "heating";
    case compare::Event::pause:
      return "standstill";
    case compare::Event::wait:
      return "wait";
    case compare::Event::tool_change:
      return "tool change";
  }
  return "";
}

std::string event_text(compare::PurgePoint const& point) {
  std::string text = fmt::format("{} at line {}", event_name(point.event), point.line);
  if (point.standstill_s > 0) text += fmt::format(" ({})", duration(point.standstill_s));
  return text;
}

// What the file does about old plastic after each event.
void append_purges(Sentences& out,
                   ResidencePage const& page,
                   compare::PrintResidence const& print) {
  double const advised = page.facts.flush_mm3;
  std::string const volume = fmt::format("{:.0f} mm³", advised);
  std::size_t shown = 0;
  for (compare::PurgePoint const& point : print.purges) {
    if (point.purged_mm3 >= advised) continue;
    if (shown++ == places_shown) break;
    out.push_back(
        point.purged_mm3 > 0
            ? fmt::format("After the {} the file purges only {:.0f} mm³ of the {} advised.",
                          event_text(point),
                          point.purged_mm3,
                          volume)
            : fmt::format("After the {} the file has no purge: {} of E alone are advised, unless a "
                          "skirt does that.",
                          event_text(point),
                          volume));
  }
  if (shown > places_shown)
    out.push_back(fmt::format("Further such places: {} in all.", print.purge_count));
}

void append_cooked(Sentences& out,
                   ResidencePage const& page,
                   compare::PrintResidence const& print) {
  if (!page.longest_residence_s) return;
  if (print.cooked_count == 0) {
    out.push_back(fmt::format("No plastic stays longer than longest_residence_s, {}.",
                              duration(*page.longest_residence_s)));
    return;
  }
  out.push_back(fmt::format("Plastic will degrade: {:.0f} mm³ ({}) come out after more than {}.",
                            print.cooked_mm3,
                            percent(print.cooked_mm3 / print.out_mm3),
                            duration(*page.longest_residence_s)));
  for (std::size_t i = 0; i < std::min(places_shown, print.cooked.size()); ++i) {
    compare::Cooked const& place = print.cooked[i];
    out.push_back(fmt::format("Lines {} to {}: {:.0f} mm³, hot for up to {}.",
                              place.first_line,
                              place.last_line,
                              place.mm3,
                              duration(place.longest_s)));
  }
}

void append_print(Sentences& out, ResidencePage const& page) {
  compare::PrintResidence const& print = *page.print;
  if (print.out_mm3 <= 0) {
    out.push_back("The print feeds almost nothing.");
    append_purges(out, page, print);
    return;
  }
  std::string text = fmt::format(
      "Over this print, as plug flow: mean {}, longest {} (out at line "
      "{})",
      duration(print.mean_s),
      duration(print.longest_s),
      print.longest_line);
  if (print.standstill_line > 0)
    text += fmt::format("; longest standstill {}, ends in line {}",
                        duration(print.longest_standstill_s),
                        print.standstill_line);
  text += fmt::format("; unstirred, {:g} % for longer than about {}",
                      100 * melt::slow_share,
                      duration(print.mean_s * page.facts.slow_s / page.facts.mean_s));
  if (print.unknown_waits > 0)
    text += fmt::format("; {} waits of unknown length are not counted", print.unknown_waits);
  text += ".";
  if (print.out_mm3 < page.melt_volume_mm3)
    text += " All of it lay in the barrel before: how long it was hot until then is not counted.";
  out.push_back(std::move(text));
  append_cooked(out, page, print);
  append_purges(out, page, print);
}

json print_json(compare::PrintResidence const& print) {
  json histogram = json::array(), cooked = json::array(), purges = json::array();
  for (std::size_t i = 0; i < print.histogram_mm3.size(); ++i) {
    double const high = compare::residence_classes_s[i];
    histogram.push_back({{"up_to_s", std::isinf(high) ? json(nullptr) : json(high)},
                         {"mm3", print.histogram_mm3[i]}});
  }
  for (compare::Cooked const& place : print.cooked)
    cooked.push_back({{"first_line", place.first_line},
                      {"last_line", place.last_line},
                      {"longest_s", place.longest_s},
                      {"mm3", place.mm3}});
  for (compare::PurgePoint const& point : print.purges)
    purges.push_back({{"event", event_name(point.event)},
                      {"line", point.line},
                      {"standstill_s", point.standstill_s},
                      {"purged_mm3", point.purged_mm3}});
  return {{"printed_s", print.printed_s},
          {"out_mm3", print.out_mm3},
          {"mean_s", print.mean_s},
          {"longest_s", print.longest_s},
          {"longest_line", print.longest_line},
          {"longest_standstill_s", print.longest_standstill_s},
          {"standstill_line", print.standstill_line},
          {"left_s", print.left_s},
          {"unknown_waits", print.unknown_waits},
          {"histogram", histogram},
          {"cooked_mm3", print.cooked_mm3},
          {"cooked_places", print.cooked_count},
          {"cooked", cooked},
          {"purge_points", purges}};
}

}  // namespace

Sentences findings(ResidencePage const& page) {
  melt::ResidenceFacts const& facts = page.facts;
  Sentences out;
  out.push_back(fmt::format(
      "At {:g} mm³/s: mean {} (volume over flow). Unstirred, as in laminar flow through "
      "a pipe: shortest {}, and {:g} % stays longer than {}; the screw's stirring brings "
      "both nearer to the mean.",
      facts.flow_mm3_s,
      duration(facts.mean_s),
      duration(facts.shortest_s),
      100 * melt::slow_share,
      duration(facts.slow_s)));
  if (!page.longest_residence_s) {
    out.push_back(
        "No longest_residence_s under [material]: whether that is too long cannot be said.");
  } else if (facts.slow_s > *page.longest_residence_s) {
    std::string const what =
        facts.mean_s > *page.longest_residence_s
            ? "Even the mean is"
            : fmt::format("Unstirred, the slowest {:g} % is", 100 * melt::slow_share);
    out.push_back(
        fmt::format("{} above the {} that the material bears: print faster, or shorten "
                    "the hot section.",
                    what,
                    duration(*page.longest_residence_s)));
  }
  out.push_back(
      fmt::format("After heating, a pause or another material, purge {:.0f} mm³: then "
                  "less than {:g} % of what comes out is old.",
                  facts.flush_mm3,
                  100 * melt::old_share));
  if (page.print) append_print(out, page);
  return out;
}

std::string to_text(ResidencePage const& page) {
  bool const printed = page.print && page.print->out_mm3 > 0;
  return "How long the melt stays hot\n" + item_list(findings(page)) +
         (printed ? histogram(*page.print) : "");
}

json to_json(ResidencePage const& page) {
  melt::ResidenceFacts const& facts = page.facts;
  json out = {{"flow_mm3_s", facts.flow_mm3_s},
              {"melt_volume_mm3", page.melt_volume_mm3},
              {"mean_s", facts.mean_s},
              {"shortest_s", facts.shortest_s},
              {"slowest_percent_resides_longer_than_s", facts.slow_s},
              {"purge_mm3", facts.flush_mm3}};
  if (page.longest_residence_s) out["longest_residence_s"] = *page.longest_residence_s;
  if (page.print) out["print"] = print_json(*page.print);
  return out;
}

}  // namespace meltlag::report
