// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "against_page.hpp"
#include "barrel_picture.hpp"
#include "cause_pictures.hpp"
#include "drawing.hpp"
#include "html_items.hpp"
#include "meltlag/page/cause_pages.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/cause_names.hpp"
#include "meltlag/report/cause_text.hpp"
#include "meltlag/report/shown.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

using Row = std::vector<HtmlCell>;

std::string big_words(CausesReport const& report) {
  report::CausesPage const& page = report.causes;
  std::optional<melt::Uncertain> lag;
  if (page.measured) lag = melt::lag_at_flow(*page.measured, page.at_flow_mm3_s);
  if (!lag && page.causes) lag = page.causes->lag_s;
  if (!lag) return {};
  std::string const what = page.measured ? "lag" : "lag, by the parts";
  std::string now = escape_html(report::shown(*lag, "s"));
  if (!report.against) {
    return fmt::format(
        "{} <small class=\"below\">{} at {:g} mm³/s</small>", now, what, page.at_flow_mm3_s);
  }
  melt::Uncertain const run_on = report.against->new_build.run_on_mm3;
  return fmt::format(
      "<span class=\"before\">{}</span> → <span class=\"after\">{}</span> <small "
      "class=\"below\">run-on at {:g} "
      "mm³/s, old build and new</small>",
      escape_html(report::shown(report.against->old_build.run_on_mm3, "mm³")),
      escape_html(report::shown(run_on, "mm³")),
      page.at_flow_mm3_s);
}

std::string weak_point(report::CausesPage const& page) {
  if (!page.causes || page.causes->causes.empty()) return {};
  auto const order = largest_first(*page.causes);
  melt::Cause const& most = page.causes->causes[order.front()];
  if (order.size() > 1) {
    melt::Cause const& second = page.causes->causes[order[1]];
    double const apart = most.share.value - second.share.value;
    if (apart < 2 * std::hypot(most.share.sd, second.share.sd))
      return fmt::format(
          "Two weak points about equal: {} ({} %) and {} ({} %) of the run-on that "
          "the parts explain.",
          report::cause_name(most.kind, most.name),
          report::plus_minus(100 * most.share.value, 100 * most.share.sd),
          report::cause_name(second.kind, second.name),
          report::plus_minus(100 * second.share.value, 100 * second.share.sd));
  }
  return fmt::format("Weak point: {}, {} of the run-on that the parts explain.",
                     report::cause_name(most.kind, most.name),
                     report::percent(most.share.value));
}

// The most helpful change of a kind; null where none helps.
melt::Change const* best_of(report::CausesPage const& page, melt::ChangeKind kind) {
  melt::Change const* best = nullptr;
  for (report::ChangeRow const& row : page.changes) {
    melt::Change const& change = row.change;
    if (change.kind != kind || change.lag_change_s >= 0) continue;
    if (best == nullptr || change.lag_change_s < best->lag_change_s) best = &change;
  }
  return best;
}

// Work on a part and what it could reach at most, apart from what only needs a screw turned or a
// nozzle bought: a step of the one is not a step of the other.
std::string best_change(report::CausesPage const& page) {
  std::string text;
  if (melt::Change const* stiffer = best_of(page, melt::ChangeKind::stiffer)) {
    text = fmt::format("Of work on the parts this helps most: {}, lag {:+.0f} ms",
                       stiffer->name,
                       1000 * stiffer->lag_change_s);
    for (report::ChangeRow const& row : page.changes)
      if (row.change.kind == melt::ChangeKind::rigid && row.change.part == stiffer->part)
        text += fmt::format(" (if it were rigid, {:+.0f} ms)", 1000 * row.change.lag_change_s);
    text += ". ";
  }
  if (melt::Change const* other = best_of(page, melt::ChangeKind::other))
    text += fmt::format(
        "Of the other steps: {}, lag {:+.0f} ms.", other->name, 1000 * other->lag_change_s);
  return text;
}

void write_lag_table(Out const& out, report::CausesPage const& page) {
  HtmlTable table{.caption = fmt::format("This build, at {:g} mm³/s", page.at_flow_mm3_s),
                  .columns = {{"", "", report::Align::left}},
                  .rows = {{{"run-on"}}, {{"lag"}}}};
  auto const column = [&](char const* name,
                          std::string const& json_key,
                          melt::Uncertain const& run_on,
                          melt::Uncertain const& lag) {
    table.columns.push_back({name, "± one deviation"});
    table.rows[0].push_back({report::shown(run_on, "mm³"), json_key + ".run_on_mm3"});
    table.rows[1].push_back({report::shown(lag, "s"), json_key + ".lag_s"});
  };
  if (page.measured) {
    column("measured",
           "measured",
           melt::run_on_at_flow(*page.measured, page.at_flow_mm3_s),
           melt::lag_at_flow(*page.measured, page.at_flow_mm3_s));
  }
  if (page.causes) column("by the parts", "parts", page.causes->run_on_mm3, page.causes->lag_s);
  if (table.columns.size() > 1) write_table(out, table);
}

void write_headline(HtmlPage& html, CausesReport const& report) {
  report::CausesPage const& page = report.causes;
  html.section("headline", "How far the outflow lags", "");
  if (std::string const big = big_words(report); !big.empty())
    html.out()("<p class=\"big\">" + big + "</p>\n");
  for (std::string const& words : {weak_point(page), best_change(page)})
    if (!words.empty()) html.paragraph(words);
  if (report.against) html.paragraph(verdict_text(*report.against));
  write_lag_table(html.out(), page);
  if (page.finding) html.paragraph(report::in_words(*page.finding));
}

void write_causes_table(Out const& out,
                        melt::Causes const& causes,
                        CauseNames const& names,
                        std::string const& caption,
                        std::string const& json_key) {
  HtmlTable table{.caption = caption,
                  .columns = {{"cause", "", report::Align::left},
                              {"run-on", "mm³"},
                              {"lag", "s"},
                              {"share", ""},
                              {"gives", "mm"}},
                  .rows = {}};
  for (std::size_t const i : largest_first(causes)) {
    melt::Cause const& cause = causes.causes[i];
    std::size_t const index = names.index(cause);
    std::string const key = fmt::format("{}.causes.{}.", json_key, i);
    double const deflection = cause.deflection_mm.value;
    table.rows.push_back(
        {{fmt::format("{} {}", report::letter(index), report::cause_name(cause.kind, cause.name)),
          "",
          share_colour(index)},
         {report::plus_minus(cause.run_on_mm3.value, cause.run_on_mm3.sd), key + "run_on_mm3"},
         {report::plus_minus(cause.lag_s.value, cause.lag_s.sd), key + "lag_s"},
         {report::shown({100 * cause.share.value, 100 * cause.share.sd}, "%"), key + "share"},
         deflection > 0 ? HtmlCell{report::plus_minus(deflection, 0), key + "deflection_mm"}
                        : HtmlCell{}});
  }
  table.rows.push_back(
      {{"together"},
       {report::plus_minus(causes.run_on_mm3.value, causes.run_on_mm3.sd),
        json_key + ".run_on_mm3"},
       {report::plus_minus(causes.lag_s.value, causes.lag_s.sd), json_key + ".lag_s"},
       {"100 %"},
       {}});
  write_table(out, table);
}

// A measured bar for each build whose lag was measured.
std::vector<RunOnBar> bars_of(CausesReport const& report) {
  report::CausesPage const& page = report.causes;
  bool const two = report.against.has_value();
  std::vector<RunOnBar> bars;
  auto const add = [&](std::string const& which,
                       std::optional<melt::Causes> const& causes,
                       std::optional<melt::Uncertain> const& measured) {
    if (causes) bars.push_back({which + "by the parts", &*causes, {}});
    if (measured) bars.push_back({which + "measured", nullptr, measured});
  };
  if (two) {
    report::BuildRow const& row = report.against->old_build;
    std::optional<melt::Uncertain> measured;
    if (row.lag_from == report::LagFrom::measured) measured = row.run_on_mm3;
    add("old build, ", report.against->old_causes, measured);
  }
  std::optional<melt::Uncertain> measured;
  if (page.measured) measured = melt::run_on_at_flow(*page.measured, page.at_flow_mm3_s);
  add(two ? "new build, " : "", page.causes, measured);
  return bars;
}

void write_causes(HtmlPage& html, CausesReport const& report) {
  report::CausesPage const& page = report.causes;
  html.section(
      "causes",
      "Where it comes from",
      fmt::format("Run-on at {:g} mm³/s by cause, measured beside it.", page.at_flow_mm3_s));
  if (!page.causes) {
    html.paragraph(
        fmt::format("The parts say nothing yet without {}.", fmt::join(page.missing, ", ")));
  }
  CauseNames names;
  bool const old_causes = report.against && report.against->old_causes;
  if (page.causes) names.add(*page.causes);
  if (old_causes) names.add(*report.against->old_causes);
  auto const bars = bars_of(report);
  if (!bars.empty()) write_run_on_bars(html.out(), bars, names);
  if (page.causes || old_causes) {
    html.paragraph(
        "Whiskers: ± one deviation. Dashed: if the pressure pushed on the screw's own "
        "area only.");
  }
  if (page.causes) {
    write_causes_table(html.out(), *page.causes, names, old_causes ? "This build" : "", "parts");
  }
  if (old_causes)
    write_causes_table(
        html.out(), *report.against->old_causes, names, "Old build", "against.old_parts");
  if (!page.causes) return;
  for (std::string const& words : {report::thrust_text(*page.causes),
                                   report::volume_text(*page.causes),
                                   report::doubt_text(*page.causes)})
    html.paragraph(words);
  if (page.back_leak) html.paragraph(report::leak_text(*page.back_leak));
}

void write_changes(HtmlPage& html, report::CausesPage const& page) {
  if (!page.now) return;
  html.section(
      "changes", "What would help most", "Computed from the parts, the most helpful first.");
  write_table(html.out(), table_of(report::change_rows(page), ""));
  std::vector<std::string> const small = report::small_changes(page);
  if (!small.empty()) html.paragraph(fmt::format("Small ones: {}.", fmt::join(small, "; ")));
}

void write_barrel_section(HtmlPage& html, CausesReport const& report) {
  report::CausesPage const& page = report.causes;
  if (!report.barrel && page.barrier_lacks.empty()) return;
  html.section("barrel", "The barrel, to scale", "");
  html.out()("<div class=\"beside\">\n");
  if (report.barrel) write_barrel(html.out(), {*report.barrel, report.nozzle, page.barrier});
  html.out()("<div>\n");
  if (page.barrier) write_items(html.out(), report::findings(*page.barrier));
  if (!page.barrier_lacks.empty()) {
    html.paragraph(fmt::format("The heat barrier cannot be computed without {}.",
                               fmt::join(page.barrier_lacks, ", ")));
  }
  html.paragraph(
      "Outlines drawn with dashes are not known and only sketched; the flights are drawn where the "
      "screw's diameter and pitch are given.");
  html.out()("</div>\n</div>\n");
}

void write_residence(HtmlPage& html, report::CausesPage const& page) {
  if (!page.residence) return;
  html.section("residence", "How long the melt stays hot", "");
  report::ResidencePage const& residence = *page.residence;
  HtmlTable table{
      .caption = "",
      .columns = {{"", "", report::Align::left}, {"residence", ""}},
      .rows = {{{"mean at the working flow"},
                {report::duration(residence.facts.mean_s), "residence.mean_s"}},
               {{"shortest, unstirred"},
                {report::duration(residence.facts.shortest_s), "residence.shortest_s"}}}};
  if (residence.longest_residence_s)
    table.rows.push_back(
        {{"that the material bears"},
         {report::duration(*residence.longest_residence_s), "residence.longest_residence_s"}});
  bool const flows = residence.print && residence.print->out_mm3 > 0;
  if (flows) {
    table.rows.push_back({{"mean over the print"},
                          {report::duration(residence.print->mean_s), "residence.print.mean_s"}});
    table.rows.push_back(
        {{"longest over the print"},
         {report::duration(residence.print->longest_s), "residence.print.longest_s"}});
    write_residence_histogram(html.out(), residence);
  }
  write_table(html.out(), table);
  write_items(html.out(), report::findings(residence));
}

std::vector<std::string> cautions_of(CausesReport const& report) {
  std::vector<std::string> out = {
      "What the parts explain is computed from the profile. The melt's properties are those of "
      "plastics of its kind, and they make most of the ±.",
      "The area that the pressure pushes on lies between the screw's and the bore's; the bore's is "
      "used.",
      "The lag after a change is computed by what the parts explain of the measured one: parts "
      "that "
      "are not in the list stay as they are."};
  if (report.against)
    out.emplace_back(
        "Verdicts come from the scatter between prints alone; the ± of one fit or of the parts "
        "does not say how far the next print may be off.");
  return out;
}

}  // namespace

void write_page(Out const& out, CausesReport const& report) {
  report::CausesPage const& page = report.causes;
  std::string subtitle = page.title;
  if (report.against) subtitle += " · against " + report.against->old_build.title;
  if (!page.file.empty()) subtitle += " · " + page.file;
  HtmlPage html(out,
                {.title = "Where the lag comes from",
                 .subtitle = fmt::format("{} · meltlag {} causes", subtitle, report.version)});
  write_headline(html, report);
  write_causes(html, report);
  write_changes(html, page);
  if (report.against) write_against(html, *report.against);
  write_barrel_section(html, report);
  write_residence(html, page);
  html.section("cautions", "What to keep in mind", "");
  html.cautions(cautions_of(report), page.notices);
  html.section("profile", report.profiles.size() > 1 ? "The profiles" : "The profile", "");
  for (ProfileText const& profile : report.profiles) html.profile(profile.title, profile.text);
  html.finish();
}

}  // namespace meltlag::page
