// SPDX-License-Identifier: MIT
#include "meltlag/report/builds.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "meltlag/report/build_json.hpp"
#include "meltlag/report/row_list.hpp"
#include "meltlag/report/shown.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using nlohmann::json;

std::string of_prints(std::vector<double> const& values) {
  if (values.empty()) return "";
  compare::Sample const sample = compare::sample_of(values);
  return fmt::format("{} ({})", plus_minus(sample.mean, sample.mean_sd()), sample.prints);
}

json prints_json(std::vector<double> const& values) {
  compare::Sample const sample = compare::sample_of(values);
  return {{"values", values},
          {"prints", sample.prints},
          {"mean", sample.mean},
          {"scatter_sd", sample.sd},
          {"mean_sd", sample.mean_sd()}};
}

}  // namespace

json build_json(BuildRow const& row) {
  json lags = json::array();
  for (LagPoint const& lag : row.lags)
    lags.push_back(
        {{"flow_mm3_s", lag.flow_mm3_s}, {"lag_s", lag.lag_s.value}, {"lag_sd_s", lag.lag_s.sd}});
  json out = {{"title", row.title},
              {"path", row.path},
              {"date", row.date},
              {"notes", row.notes},
              {"lag_from", row.lag_from == LagFrom::measured ? "measured" : "parts"},
              {"run_on_mm3", row.run_on_mm3.value},
              {"run_on_sd_mm3", row.run_on_mm3.sd},
              {"lags", lags},
              {"prints",
               {{"run_on_mm3", prints_json(row.prints.run_on_mm3)},
                {"lag_s", prints_json(row.prints.lag_s)},
                {"blob_mm3", prints_json(row.prints.blob_mm3)},
                {"gap_mm", prints_json(row.prints.gap_mm)}}}};
  if (row.melt_volume_mm3) out["melt_volume_mm3"] = row.melt_volume_mm3->value;
  if (row.residence_s) out["residence_s"] = *row.residence_s;
  if (row.pressure_mpa) out["pressure_mpa"] = row.pressure_mpa->value;
  if (row.thrust_n) out["thrust_n"] = row.thrust_n->value;
  if (row.as_sliced) out["misplaced_share_as_sliced"] = row.as_sliced->misplaced_share();
  if (row.flow_set_right)
    out["misplaced_share_flow_set_right"] = row.flow_set_right->misplaced_share();
  return out;
}

std::string to_text(BuildsPage const& page) {
  if (page.builds.empty()) return {};
  std::vector<Column> lag_columns{
      {"build", "", 15, Align::left}, {"date", "", 10, Align::left}, {"run-on", "mm³", 11}};
  for (LagPoint const& lag : page.builds.front().lags)
    lag_columns.push_back({"lag, s", fmt::format("at {} mm³/s", number(lag.flow_mm3_s, 2)), 13});
  Table const lags(lag_columns);
  std::string out = lags.header();
  std::vector<std::string> titles;
  for (BuildRow const& row : page.builds) titles.push_back(row.title);
  std::vector<std::string> const narrow = cut_apart(titles, 15), wide = cut_apart(titles, 16);
  for (BuildRow const& row : page.builds) {
    auto const k = static_cast<std::size_t>(&row - page.builds.data());
    std::vector<std::string> cells{narrow[k], cut_to(row.date, 10), shown(row.run_on_mm3)};
    for (LagPoint const& lag : row.lags) cells.push_back(shown(lag.lag_s));
    lags.append_row(out, cells);
  }
  Table const seen{{{"build", "", 16, Align::left},
                    {"residence", "s", 9},
                    {"run-on", "mm³ (prints)", 17},
                    {"blob", "mm³ (prints)", 17},
                    {"gap", "mm (prints)", 17}}};
  out += "\nAs measured on single prints, as sliced\n" + seen.header();
  for (BuildRow const& row : page.builds)
    seen.append_row(out,
                    {wide[static_cast<std::size_t>(&row - page.builds.data())],
                     row.residence_s ? fmt::format("{:.0f}", *row.residence_s) : "",
                     of_prints(row.prints.run_on_mm3),
                     of_prints(row.prints.blob_mm3),
                     of_prints(row.prints.gap_mm)});
  std::string notes;
  for (BuildRow const& row : page.builds) {
    std::string const text = build_notes(row);
    if (!text.empty()) notes += list_item(fmt::format("{}: {}", row.title, text));
  }
  return notes.empty() ? out : out + "\nWhat changed\n" + notes;
}

json to_json(BuildsPage const& page) {
  json builds = json::array();
  for (BuildRow const& row : page.builds) builds.push_back(build_json(row));
  return {{"at_flow_mm3_s", page.at_flow_mm3_s}, {"builds", builds}};
}

}  // namespace meltlag::report
