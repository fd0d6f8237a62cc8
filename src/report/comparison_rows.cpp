// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <cmath>
#include <iterator>
#include <nlohmann/json.hpp>
#include <ostream>

#include "finding_names.hpp"
#include "meltlag/report/comparison.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using compare::ComparedRow;
using compare::PrintComparison;

double percent_of(double part, double whole) { return whole != 0 ? 100 * part / whole : 0; }

void append_known(std::string& line, double value) {
  if (std::isfinite(value)) {
    fmt::format_to(std::back_inserter(line), ",{:.6g}", value);
  } else {
    line += ',';
  }
}

// null where it is not known.
nlohmann::json known(double value) {
  return std::isfinite(value) ? nlohmann::json(value) : nlohmann::json();
}

nlohmann::json row_json(ComparedRow const& row) {
  nlohmann::json out = {{"kind", compare::name_of(row.measured.kind)},
                        {"unit", compare::unit_of(row.measured.kind)},
                        {"sheet_line", row.measured.place.line},
                        {"line", row.line},
                        {"print_s", row.print_s},
                        {"x_mm", row.at_mm.x},
                        {"y_mm", row.at_mm.y},
                        {"z_mm", row.at_mm.z},
                        {"measured", row.measured.value},
                        {"predicted", row.predicted},
                        {"without_lag", row.without_lag},
                        {"asked", known(row.asked)},
                        {"off", row.off()},
                        {"tool_sd", row.tool_sd},
                        {"profile_sd", row.profile_sd},
                        {"expected_sd", row.expected_sd()},
                        {"as_expected", row.as_expected()},
                        {"stage", compare::name_of(row.stage)},
                        {"travel_s", row.travel_s},
                        {"per_run_on", row.per_run_on},
                        {"per_factor", row.per_factor},
                        {"per_index", row.per_index}};
  if (compare::by_time(row.measured.kind)) out["t_s"] = row.measured.t_s;
  if (row.measured.to_line > row.line) out["to_line"] = row.measured.to_line;
  if (row.measured.at_mm) out["at_mm"] = *row.measured.at_mm;
  if (row.layer_height_mm > 0) out["layer_height_mm"] = row.layer_height_mm;
  return out;
}

nlohmann::json kind_json(compare::KindSummary const& k) {
  return {{"kind", compare::name_of(k.kind)},
          {"unit", compare::unit_of(k.kind)},
          {"rows", k.offs.count},
          {"bias", k.offs.bias},
          {"bias_se", k.offs.bias_se},
          {"bias_allowed", k.bias_allowed},
          {"rms", k.offs.rms},
          {"expected_rms", k.expected_rms},
          {"share_explained", k.share_explained},
          {"most_explainable", k.most_explainable},
          {"mean_predicted", k.mean_predicted},
          {"as_expected", k.as_expected}};
}

nlohmann::json clock_json(compare::Clock const& clock) {
  return {{"offset_s", clock.offset_s},
          {"offset_sd_s", clock.sd_s},
          {"found", clock.found},
          {"correlation", clock.correlation},
          {"drift_s", clock.drift_s},
          {"drift_sd_s", clock.drift_sd_s},
          {"drift_over_s", clock.drift_over_s}};
}

nlohmann::json refit_json(compare::Refit const& refit) {
  nlohmann::json out = {
      {"rows", refit.rows}, {"chi2_before", refit.chi2_before}, {"chi2_after", refit.chi2_after}};
  if (refit.run_on_sd > 0) out["run_on"] = {{"times", refit.run_on}, {"sd", refit.run_on_sd}};
  if (refit.delivered_factor_sd > 0)
    out["delivered_factor"] = {{"times", refit.delivered_factor},
                               {"sd", refit.delivered_factor_sd}};
  return out;
}

nlohmann::json curve_json(PrintComparison const& c) {
  nlohmann::json out = nlohmann::json::array();
  for (compare::CurvePoint const& point : c.curve)
    out.push_back({{"print_s", point.print_s},
                   {"line", point.line},
                   {"predicted_mm3_s", point.predicted_mm3_s},
                   {"without_lag_mm3_s", point.without_lag_mm3_s},
                   {"asked_mm3_s", point.asked_mm3_s},
                   {"thrust_n", known(point.thrust_n)}});
  return out;
}

}  // namespace

nlohmann::json summary_json(PrintComparison const& c, ComparisonNames const& names) {
  nlohmann::json out = {{"file", names.file},
                        {"measured", names.sheet},
                        {"planned_s", c.planned_s},
                        {"unknown_waits", c.unknown_waits},
                        {"refit", refit_json(c.refit)},
                        {"curve", curve_json(c)}};
  for (char const* list : {"kinds", "stages", "worst", "findings"})
    out[list] = nlohmann::json::array();
  for (compare::KindSummary const& k : c.kinds) out["kinds"].push_back(kind_json(k));
  for (compare::StageOffs const& s : c.stages)
    out["stages"].push_back({{"stage", compare::name_of(s.stage)},
                             {"long_travel", s.long_travel},
                             {"rows", s.rows},
                             {"off_share", s.off_share},
                             {"off_share_se", s.off_share_se}});
  for (compare::RowStretch const& s : c.worst)
    out["worst"].push_back({{"kind", compare::name_of(s.kind)},
                            {"first_line", s.first_line},
                            {"last_line", s.last_line},
                            {"first_s", s.first_s},
                            {"last_s", s.last_s},
                            {"rows", s.rows},
                            {"mean_off", s.mean_off},
                            {"mean_off_share", s.mean_off_share},
                            {"weight", s.weight},
                            {"line", s.line},
                            {"at_s", s.at_s},
                            {"layer", s.layer},
                            {"x_mm", s.at_mm.x},
                            {"y_mm", s.at_mm.y}});
  if (c.clock) out["clock"] = clock_json(*c.clock);
  for (compare::Finding const finding : c.findings)
    out["findings"].push_back(
        {{"finding", finding_name(finding)}, {"words", finding_text(finding, c, names)}});
  return out;
}

void write_json(Out const& out, nlohmann::json page, PrintComparison const& c) {
  // Quotes inside of strings are escaped: no text but this value can look so.
  constexpr std::string_view place = "\"rows\": \"\"", key = "\"rows\": [";
  page["comparison"]["rows"] = "";
  std::string const text = dump(page);
  std::size_t const at = text.find(place);
  out(std::string_view(text).substr(0, at));
  out(key);
  std::string line;
  for (ComparedRow const& row : c.rows) {
    line = line.empty() ? "\n      " : ",\n      ";
    line += row_json(row).dump();
    out(line);
  }
  out(c.rows.empty() ? "]" : "\n    ]");
  out(std::string_view(text).substr(at + place.size()));
}

void write_csv(std::ostream& out, PrintComparison const& c) {
  out << "kind,line,to_line,at_mm,t_s,print_s,x_mm,y_mm,z_mm,unit,measured,predicted,without_lag,"
         "asked,off,off_percent,expected_sd,as_expected,stage\n";
  for (ComparedRow const& row : c.rows) {
    compare::MeasuredRow const& m = row.measured;
    bool const timed = compare::by_time(m.kind);
    std::string line = fmt::format("{},{},", compare::name_of(m.kind), row.line);
    line += timed ? "" : std::to_string(m.to_line);
    append_known(line, m.at_mm.value_or(std::nan("")));
    line += timed ? fmt::format(",{:.4f}", m.t_s) : ",";
    line += fmt::format(",{:.4f}", row.print_s);
    for (double const v : {row.at_mm.x, row.at_mm.y, row.at_mm.z}) append_known(line, v);
    line += fmt::format(",{}", compare::unit_of(m.kind));
    for (double const v : {m.value,
                           row.predicted,
                           row.without_lag,
                           row.asked,
                           row.off(),
                           percent_of(row.off(), row.predicted),
                           row.expected_sd()})
      append_known(line, v);
    out << line << ',' << (row.as_expected() ? "yes" : "no") << ',' << compare::name_of(row.stage)
        << '\n';
  }
}

}  // namespace meltlag::report
