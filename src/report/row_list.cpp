// SPDX-License-Identifier: MIT
#include "meltlag/report/row_list.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/report/build_json.hpp"
#include "meltlag/report/shown.hpp"

namespace meltlag::report {
namespace {

using compare::Comparison;
using melt::Uncertain;

// Rows of old, new and difference.
class AgainstRows {
 public:
  void add(std::string name,
           std::string const& json_key,
           Uncertain const& a,
           Uncertain const& b,
           Uncertain const& difference) {
    auto const key = [&](char const* side) {
      return json_key.empty() ? "" : fmt::format("{}.{}", side, json_key);
    };
    list_.rows.push_back(
        {{std::move(name)}, {shown(a), key("old")}, {shown(b), key("new")}, {shown(difference)}});
  }
  void add(std::string name, std::string const& key, Uncertain const& a, Uncertain const& b) {
    add(std::move(name), key, a, b, {b.value - a.value, std::hypot(a.sd, b.sd)});
  }
  void add(std::string name, double a, double b) {
    add(std::move(name), "", Uncertain{a}, Uncertain{b});
  }
  [[nodiscard]] RowList list() && { return std::move(list_); }

 private:
  RowList list_{.columns = {{"", "± one deviation", 30, Align::left},
                            {"old", "", 16},
                            {"new", "", 16},
                            {"difference", "new − old", 15}},
                .rows = {}};
};

void add_parts(AgainstRows& rows, AgainstPage const& page) {
  BuildRow const &a = page.old_build, &b = page.new_build;
  melt::BuildDifference const& d = *page.parts;
  rows.add(
      "melt, mm³", "melt_volume_mm3", *a.melt_volume_mm3, *b.melt_volume_mm3, d.melt_volume_mm3);
  rows.add("pressure, MPa", "pressure_mpa", *a.pressure_mpa, *b.pressure_mpa, d.pressure_mpa);
  rows.add("thrust, N", "thrust_n", *a.thrust_n, *b.thrust_n, d.thrust_n);
  rows.add("run-on by the parts, mm³", "", *a.parts_run_on_mm3, *b.parts_run_on_mm3, d.run_on_mm3);
}

void add_metrics(AgainstRows& rows, BuildRow const& old_build, BuildRow const& new_build) {
  judge::PrintMetrics const &a = *old_build.as_sliced, &b = *new_build.as_sliced;
  rows.add("misplaced as sliced, %", 100 * a.misplaced_share(), 100 * b.misplaced_share());
  if (old_build.flow_set_right && new_build.flow_set_right)
    rows.add("misplaced, flow set right, %",
             100 * old_build.flow_set_right->misplaced_share(),
             100 * new_build.flow_set_right->misplaced_share());
  rows.add("bead error as sliced, %", 100 * a.bead_error(), 100 * b.bead_error());
  rows.add("blobs predicted, mm³", a.blob_mean_mm3(), b.blob_mean_mm3());
  rows.add("gaps predicted, mm", a.gap_mean_mm(), b.gap_mean_mm());
}

bool printed(Comparison const& c) { return c.old_build.prints + c.new_build.prints > 0; }

}  // namespace

std::string to_text(RowList const& list) {
  Table const table{list.columns};
  std::string out = table.header();
  for (auto const& row : list.rows) {
    std::vector<std::string> cells;
    for (Cell const& cell : row) cells.push_back(cell.text);
    table.append_row(out, cells);
  }
  return out;
}

std::string build_heading(char const* which, BuildRow const& row) {
  std::string const date = row.date.empty() ? "" : fmt::format(" ({})", row.date);
  return fmt::format(
      "{}: {}{}{}{}", which, row.title, date, row.notes.empty() ? "" : ": ", row.notes);
}

std::string build_notes(BuildRow const& row) {
  if (row.lag_from == LagFrom::measured) return row.notes;
  return fmt::format(
      "{}{}run-on and lag are computed from the parts", row.notes, row.notes.empty() ? "" : "; ");
}

RowList against_rows(AgainstPage const& page) {
  BuildRow const &a = page.old_build, &b = page.new_build;
  AgainstRows rows;
  rows.add(fmt::format("run-on at {:g} mm³/s, mm³", page.at_flow_mm3_s),
           "run_on_mm3",
           a.run_on_mm3,
           b.run_on_mm3);
  for (std::size_t i = 0; i < a.lags.size(); ++i)
    rows.add(fmt::format("lag at {} mm³/s, s", number(a.lags[i].flow_mm3_s, 2)),
             fmt::format("lags.{}.lag_s", i),
             a.lags[i].lag_s,
             b.lags[i].lag_s);
  if (a.residence_s && b.residence_s)
    rows.add("mean residence time, s",
             "residence_s",
             Uncertain{*a.residence_s},
             Uncertain{*b.residence_s});
  if (page.parts) add_parts(rows, page);
  if (a.as_sliced && b.as_sliced) add_metrics(rows, a, b);
  return std::move(rows).list();
}

RowList verdict_rows(compare::BuildComparison const& prints) {
  RowList list{.columns = {{"", "", 11, Align::left},
                           {"old, ± scatter", "(prints)", 19},
                           {"new, ± scatter", "(prints)", 19},
                           {"difference", "± 95 %", 15},
                           {"verdict", "", 12, Align::left}},
               .rows = {}};
  for (NamedComparison const& row : named(prints)) {
    Comparison const& c = *row.comparison;
    if (!printed(c)) continue;
    std::string const key = fmt::format("prints.{}.", row.name);
    auto const cell = [](bool known, std::string const& text, std::string const& json) {
      return known ? Cell{text, json} : Cell{text};
    };
    bool const old_prints = c.old_build.prints > 0, new_prints = c.new_build.prints > 0;
    bool const both = old_prints && new_prints;
    list.rows.push_back(
        {{fmt::format("{}, {}", row.name, row.unit)},
         cell(old_prints, shown(c.old_build), key + "old.mean"),
         cell(new_prints, shown(c.new_build), key + "new.mean"),
         cell(both, both ? plus_minus(c.difference, c.margin) : "", key + "difference"),
         {in_words(c.verdict)}});
  }
  return list;
}

Sentences verdict_reasons(compare::BuildComparison const& prints) {
  Sentences out;
  for (NamedComparison const& row : named(prints))
    if (std::string const why = reason(*row.comparison); printed(*row.comparison) && !why.empty())
      out.push_back(fmt::format("{}: {}", row.name, why));
  return out;
}

}  // namespace meltlag::report
