// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/build_json.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/shown.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using compare::Comparison;
using nlohmann::json;

// Rows of old, new and difference.
class Rows {
 public:
  void add(std::string const& name, melt::Uncertain const& a, melt::Uncertain const& b) {
    double const sd = std::hypot(a.sd, b.sd);
    table_.append_row(text_, {name, shown(a), shown(b), plus_minus(b.value - a.value, sd)});
  }
  void add(std::string const& name,
           melt::Uncertain const& a,
           melt::Uncertain const& b,
           melt::Uncertain const& difference) {
    table_.append_row(text_, {name, shown(a), shown(b), shown(difference)});
  }
  [[nodiscard]] std::string text() const { return table_.header() + text_; }

 private:
  Table table_{{{"", "± one deviation", 30, Align::left},
                {"old", "", 16},
                {"new", "", 16},
                {"difference", "new − old", 15}}};
  std::string text_;
};

void add_figures(Rows& rows, BuildRow const& old_build, BuildRow const& new_build) {
  judge::PrintMetrics const &a = *old_build.as_sliced, &b = *new_build.as_sliced;
  auto const row = [&](char const* name, double old_value, double new_value) {
    rows.add(name, melt::Uncertain{old_value}, melt::Uncertain{new_value});
  };
  row("misplaced as sliced, %", 100 * a.misplaced_share(), 100 * b.misplaced_share());
  if (old_build.flow_set_right && new_build.flow_set_right)
    row("misplaced, flow set right, %",
        100 * old_build.flow_set_right->misplaced_share(),
        100 * new_build.flow_set_right->misplaced_share());
  row("bead error as sliced, %", 100 * a.bead_error(), 100 * b.bead_error());
  row("blobs predicted, mm³", a.blob_mean_mm3(), b.blob_mean_mm3());
  row("gaps predicted, mm", a.gap_mean_mm(), b.gap_mean_mm());
}

void add_parts(Rows& rows, AgainstPage const& page) {
  BuildRow const &a = page.old_build, &b = page.new_build;
  rows.add("melt, mm³", *a.melt_volume_mm3, *b.melt_volume_mm3, page.parts->melt_volume_mm3);
  rows.add("pressure, MPa", *a.pressure_mpa, *b.pressure_mpa, page.parts->pressure_mpa);
  rows.add("thrust, N", *a.thrust_n, *b.thrust_n, page.parts->thrust_n);
  rows.add(
      "run-on by the parts, mm³", *a.parts_run_on_mm3, *b.parts_run_on_mm3, page.parts->run_on_mm3);
}

std::string heading(char const* which, BuildRow const& row) {
  std::string text = fmt::format("{}: {}", which, row.title);
  if (!row.date.empty()) text += fmt::format(" ({})", row.date);
  if (!row.notes.empty()) text += ": " + row.notes;
  return list_item(text);
}

std::string verdicts(compare::BuildComparison const& prints) {
  Table const table{{{"", "", 11, Align::left},
                     {"old, ± scatter", "(prints)", 19},
                     {"new, ± scatter", "(prints)", 19},
                     {"difference", "± 95 %", 15},
                     {"verdict", "", 12, Align::left}}};
  std::string out = "\nAs measured on single prints\n" + table.header(), reasons;
  for (NamedComparison const& row : named(prints)) {
    Comparison const& c = *row.comparison;
    if (c.old_build.prints + c.new_build.prints == 0) continue;
    bool const both = c.old_build.prints > 0 && c.new_build.prints > 0;
    table.append_row(out,
                     {fmt::format("{}, {}", row.name, row.unit),
                      shown(c.old_build),
                      shown(c.new_build),
                      both ? plus_minus(c.difference, c.margin) : "",
                      in_words(c.verdict)});
    if (std::string const why = reason(c); !why.empty())
      reasons += list_item(fmt::format("{}: {}", row.name, why));
  }
  return out + reasons;
}

}  // namespace

std::vector<NamedComparison> named(compare::BuildComparison const& prints) {
  using compare::BuildPrints;
  return {{"run-on", "mm³", &prints.run_on_mm3, &BuildPrints::run_on_mm3},
          {"lag", "s", &prints.lag_s, &BuildPrints::lag_s},
          {"blob", "mm³", &prints.blob_mm3, &BuildPrints::blob_mm3},
          {"gap", "mm", &prints.gap_mm, &BuildPrints::gap_mm}};
}

char const* in_words(compare::Verdict verdict) {
  switch (verdict) {
    case compare::Verdict::better:
      return "better";
    case compare::Verdict::worse:
      return "worse";
    case compare::Verdict::cannot_tell:
      return "cannot tell";
  }
  return "";
}

std::string reason(Comparison const& c) {
  using enum compare::Why;
  if (c.verdict != compare::Verdict::cannot_tell) return {};
  auto const more = [&] {
    auto const prints = [](std::size_t count) {
      return fmt::format("{} more {}", count, count == 1 ? "print" : "prints");
    };
    return fmt::format("{} of the old build and {} of the new",
                       prints(c.further->old_build),
                       prints(c.further->new_build));
  };
  switch (c.why) {
    case nothing:
    case too_few_prints:
      return fmt::format("a verdict needs at least two prints of each build: {}.", more());
    case no_scatter:
      return "the prints do not scatter at all: measure with one more digit.";
    case tested:
      break;
  }
  if (!c.further)
    return fmt::format(
        "the difference is so small beside the scatter that even {} prints of each "
        "build would not show it.",
        compare::most_prints);
  return fmt::format(
      "the difference lies within the scatter. If it and the scatter are what they "
      "look like, it takes {} to be sure, in {:.0f} of 100 cases.",
      more(),
      100 * compare::power);
}

json comparison_json(Comparison const& c) {
  json out = {
      {"old", {{"prints", c.old_build.prints}, {"mean", c.old_build.mean}, {"sd", c.old_build.sd}}},
      {"new", {{"prints", c.new_build.prints}, {"mean", c.new_build.mean}, {"sd", c.new_build.sd}}},
      {"difference", c.difference},
      {"margin_95", c.margin},
      {"verdict", in_words(c.verdict)},
      {"reason", reason(c)}};
  if (c.p) out["p"] = *c.p;
  if (c.further)
    out["more_prints"] = {{"old", c.further->old_build}, {"new", c.further->new_build}};
  return out;
}

std::string to_text(AgainstPage const& page) {
  BuildRow const &a = page.old_build, &b = page.new_build;
  std::string out = "Old build against new\n" + heading("old", a) + heading("new", b) + "\n";
  Rows rows;
  rows.add(
      fmt::format("run-on at {:g} mm³/s, mm³", page.at_flow_mm3_s), a.run_on_mm3, b.run_on_mm3);
  for (std::size_t i = 0; i < a.lags.size(); ++i)
    rows.add(fmt::format("lag at {} mm³/s, s", number(a.lags[i].flow_mm3_s, 2)),
             a.lags[i].lag_s,
             b.lags[i].lag_s);
  if (a.residence_s && b.residence_s)
    rows.add(
        "mean residence time, s", melt::Uncertain{*a.residence_s}, melt::Uncertain{*b.residence_s});
  if (page.parts) add_parts(rows, page);
  if (a.as_sliced && b.as_sliced) add_figures(rows, a, b);
  out += rows.text() + verdicts(page.prints);
  return out + list_item(
                   "Verdicts come from the scatter between prints alone; the ± of one fit or "
                   "of the parts does not say how far the next print may be off.");
}

json to_json(AgainstPage const& page) {
  json prints = json::object();
  for (NamedComparison const& row : named(page.prints))
    prints[row.name] = comparison_json(*row.comparison);
  json out = {{"at_flow_mm3_s", page.at_flow_mm3_s},
              {"old", build_json(page.old_build)},
              {"new", build_json(page.new_build)},
              {"prints", prints}};
  if (page.parts)
    out["parts_difference"] = {{"run_on_mm3", page.parts->run_on_mm3.value},
                               {"run_on_sd_mm3", page.parts->run_on_mm3.sd},
                               {"lag_s", page.parts->lag_s.value},
                               {"lag_sd_s", page.parts->lag_s.sd},
                               {"pressure_mpa", page.parts->pressure_mpa.value},
                               {"thrust_n", page.parts->thrust_n.value}};
  if (page.old_causes) out["old_parts"] = causes_json(*page.old_causes);
  if (!page.file.empty()) out["file"] = page.file;
  return out;
}

}  // namespace meltlag::report
