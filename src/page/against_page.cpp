// SPDX-License-Identifier: MIT
#include "against_page.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>
#include <optional>
#include <vector>

#include "cause_pictures.hpp"
#include "html_items.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/build_json.hpp"
#include "meltlag/report/shown.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

class AgainstRows {
 public:
  void add(std::string name,
           std::string const& json_key,
           std::string_view unit,
           melt::Uncertain const& a,
           melt::Uncertain const& b,
           std::optional<melt::Uncertain> const& difference = {}) {
    auto const key = [&](char const* side) {
      return json_key.empty() ? "" : fmt::format("against.{}.{}", side, json_key);
    };
    melt::Uncertain const d =
        difference.value_or(melt::Uncertain{b.value - a.value, std::hypot(a.sd, b.sd)});
    rows_.push_back({{std::move(name)},
                     {report::shown(a, unit), key("old")},
                     {report::shown(b, unit), key("new")},
                     {report::shown(d, unit)}});
  }
  [[nodiscard]] HtmlTable table() const {
    return {.caption = "± one deviation",
            .columns = {{"", "", report::Align::left},
                        {"old build", ""},
                        {"new build", ""},
                        {"difference", "new − old"}},
            .rows = rows_};
  }

 private:
  std::vector<std::vector<HtmlCell>> rows_;
};

// What the parts of the machine say.
void add_parts(AgainstRows& rows, report::AgainstPage const& page) {
  if (!page.parts) return;
  report::BuildRow const &a = page.old_build, &b = page.new_build;
  melt::BuildDifference const& d = *page.parts;
  rows.add(
      "melt", "melt_volume_mm3", "mm³", *a.melt_volume_mm3, *b.melt_volume_mm3, d.melt_volume_mm3);
  rows.add("pressure", "pressure_mpa", "MPa", *a.pressure_mpa, *b.pressure_mpa, d.pressure_mpa);
  rows.add("thrust", "thrust_n", "N", *a.thrust_n, *b.thrust_n, d.thrust_n);
  rows.add(
      "run-on by the parts", "", "mm³", *a.parts_run_on_mm3, *b.parts_run_on_mm3, d.run_on_mm3);
}

void add_misplaced(AgainstRows& rows, report::AgainstPage const& page) {
  report::BuildRow const &a = page.old_build, &b = page.new_build;
  if (a.as_sliced && b.as_sliced)
    rows.add("misplaced as sliced",
             "",
             "%",
             melt::Uncertain{100 * a.as_sliced->misplaced_share()},
             melt::Uncertain{100 * b.as_sliced->misplaced_share()});
  if (a.flow_set_right && b.flow_set_right)
    rows.add("misplaced, flow set right",
             "",
             "%",
             melt::Uncertain{100 * a.flow_set_right->misplaced_share()},
             melt::Uncertain{100 * b.flow_set_right->misplaced_share()});
}

HtmlTable against_table(report::AgainstPage const& page) {
  report::BuildRow const &a = page.old_build, &b = page.new_build;
  AgainstRows rows;
  rows.add(fmt::format("run-on at {:g} mm³/s", page.at_flow_mm3_s),
           "run_on_mm3",
           "mm³",
           a.run_on_mm3,
           b.run_on_mm3);
  for (std::size_t i = 0; i < a.lags.size(); ++i)
    rows.add(fmt::format("lag at {} mm³/s", report::number(a.lags[i].flow_mm3_s, 2)),
             fmt::format("lags.{}.lag_s", i),
             "s",
             a.lags[i].lag_s,
             b.lags[i].lag_s);
  if (a.residence_s && b.residence_s)
    rows.add("mean residence time",
             "residence_s",
             "s",
             melt::Uncertain{*a.residence_s},
             melt::Uncertain{*b.residence_s});
  add_parts(rows, page);
  add_misplaced(rows, page);
  return rows.table();
}

void write_verdicts(HtmlPage& html, report::AgainstPage const& page) {
  HtmlTable table{.caption = "As measured on single prints",
                  .columns = {{"", "", report::Align::left},
                              {"old build", "± scatter (prints)"},
                              {"new build", "± scatter (prints)"},
                              {"difference", "± 95 %"},
                              {"verdict", "", report::Align::left}},
                  .rows = {}};
  std::vector<std::string> reasons;
  for (report::NamedComparison const& row : report::named(page.prints)) {
    compare::Comparison const& c = *row.comparison;
    if (c.old_build.prints + c.new_build.prints == 0) continue;
    std::string const key = fmt::format("against.prints.{}.", row.name);
    auto const sample = [&](compare::Sample const& s, char const* side) {
      return s.prints == 0
                 ? HtmlCell{"no prints"}
                 : HtmlCell{fmt::format("{} ({})", report::plus_minus(s.mean, s.sd), s.prints),
                            fmt::format("{}{}.mean", key, side)};
    };
    bool const both = c.old_build.prints > 0 && c.new_build.prints > 0;
    table.rows.push_back(
        {{fmt::format("{}, {}", row.name, row.unit)},
         sample(c.old_build, "old"),
         sample(c.new_build, "new"),
         both ? HtmlCell{report::plus_minus(c.difference, c.margin), key + "difference"}
              : HtmlCell{},
         {report::in_words(c.verdict)}});
    if (std::string const why = report::reason(c); !why.empty())
      reasons.push_back(fmt::format("{}: {}", row.name, why));
  }
  if (table.rows.empty()) return html.paragraph(verdict_text(page));
  write_print_points(html.out(), page);
  write_table(html.out(), table);
  write_items(html.out(), reasons);
}

std::string named_build(char const* which, report::BuildRow const& row) {
  std::string text = fmt::format("{}: {}", which, row.title);
  if (!row.date.empty()) text += fmt::format(" ({})", row.date);
  return row.notes.empty() ? text : text + ": " + row.notes;
}

}  // namespace

std::string verdict_text(report::AgainstPage const& page) {
  std::vector<std::string> words;
  for (report::NamedComparison const& row : report::named(page.prints)) {
    compare::Comparison const& c = *row.comparison;
    if (c.old_build.prints + c.new_build.prints == 0) continue;
    words.push_back(fmt::format("{} {}", row.name, report::in_words(c.verdict)));
  }
  if (words.empty()) return "No verdict: no single prints are given under [[measured]].";
  return fmt::format("Against the old build, by single prints: {}.", fmt::join(words, ", "));
}

void write_against(HtmlPage& html, report::AgainstPage const& page) {
  html.section("against", "Old build against new", "");
  write_items(html.out(), {named_build("Old", page.old_build), named_build("New", page.new_build)});
  write_verdicts(html, page);
  write_table(html.out(), against_table(page));
}

}  // namespace meltlag::page
