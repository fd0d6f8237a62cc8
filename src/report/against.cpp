// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "meltlag/report/build_json.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/row_list.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using compare::Comparison;
using nlohmann::json;

std::string verdicts(compare::BuildComparison const& prints) {
  return "\nAs measured on single prints\n" + to_text(verdict_rows(prints)) +
         item_list(verdict_reasons(prints));
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
  return "Old build against new\n" + list_item(build_heading("old", page.old_build)) +
         list_item(build_heading("new", page.new_build)) + "\n" + to_text(against_rows(page)) +
         verdicts(page.prints) +
         list_item(
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
