// SPDX-License-Identifier: MIT
#include <nlohmann/json.hpp>

#include "meltlag/report/build_json.hpp"
#include "meltlag/report/cause_names.hpp"
#include "meltlag/report/causes.hpp"
#include "meltlag/report/metrics.hpp"

namespace meltlag::report {
namespace {

using nlohmann::json;

void put(json& out, std::string const& key, std::string const& unit, melt::Uncertain const& value) {
  out[key + unit] = value.value;
  if (value.sd > 0) out[key + "_sd" + unit] = value.sd;
}

json cause_json(melt::Cause const& cause) {
  json out = {{"name", cause_name(cause.kind, cause.name)},
              {"least_run_on_mm3", cause.least_run_on_mm3}};
  put(out, "run_on", "_mm3", cause.run_on_mm3);
  put(out, "lag", "_s", cause.lag_s);
  put(out, "share", "", cause.share);
  if (cause.kind != melt::ShareKind::part) return out;
  put(out, "stiffness", "_n_per_mm", cause.stiffness_n_per_mm);
  put(out, "deflection", "_mm", cause.deflection_mm);
  return out;
}

json change_json(melt::Change const& change) {
  return {{"name", change.name},
          {"lag_s", change.lag_s},
          {"lag_change_s", change.lag_change_s},
          {"run_on_mm3", change.run_on_mm3},
          {"melt_volume_mm3", change.melt_volume_mm3},
          {"residence_s", change.mean_residence_s},
          {"pressure_mpa", change.pressure_mpa},
          {"thrust_n", change.thrust_n}};
}

json change_json(ChangeRow const& row) {
  json out = change_json(row.change);
  if (row.misplaced_share) out["misplaced_share_as_sliced"] = *row.misplaced_share;
  return out;
}

json finding_json(melt::Finding const& finding) {
  using enum melt::Reading;
  json out = {{"least_parts_mm3", finding.least_parts_mm3},
              {"reading",
               finding.reading == explained     ? "explained"
               : finding.reading == more        ? "more"
               : finding.reading == cannot_tell ? "cannot tell"
                                                : "less"},
              {"in_words", in_words(finding)}};
  put(out, "measured", "_mm3", finding.measured_mm3);
  put(out, "parts", "_mm3", finding.parts_mm3);
  put(out, "difference", "_mm3", finding.difference_mm3);
  return out;
}

}  // namespace

json causes_json(melt::Causes const& causes) {
  json list = json::array(), volumes = json::array(), doubts = json::array();
  for (melt::Cause const& cause : causes.causes) list.push_back(cause_json(cause));
  for (melt::VolumePart const& part : causes.volumes)
    volumes.push_back({{"name", part.name}, {"mm3", part.mm3}});
  for (melt::Doubt const& doubt : causes.doubts)
    doubts.push_back({{"key", doubt.key}, {"run_on_sd_mm3", doubt.run_on_sd_mm3}});
  json out = {{"causes", list},
              {"volumes", volumes},
              {"doubts", doubts},
              {"bore_mm2", causes.parts.area.bore_mm2},
              {"screw_mm2", causes.parts.area.screw_mm2},
              {"least_run_on_mm3", causes.parts.least_run_on_mm3},
              {"least_lag_s", causes.least_lag_s},
              {"entrance_mpa", causes.entrance_mpa}};
  put(out, "melt_volume", "_mm3", causes.melt_volume_mm3);
  put(out, "pressure", "_mpa", causes.pressure_mpa);
  put(out, "thrust", "_n", causes.thrust_n);
  put(out, "run_on", "_mm3", causes.run_on_mm3);
  put(out, "lag", "_s", causes.lag_s);
  if (causes.wind_up)
    out["wind_up"] = {{"friction_n", causes.wind_up->friction_n},
                      {"deflection_mm", causes.wind_up->deflection_mm},
                      {"mm3", causes.wind_up->mm3}};
  return out;
}

json to_json(CausesPage const& page) {
  json out = {{"title", page.title},
              {"at_flow_mm3_s", page.at_flow_mm3_s},
              {"missing", page.missing},
              {"barrier_lacks", page.barrier_lacks},
              {"notices", to_json(page.notices)}};
  if (!page.file.empty()) out["file"] = page.file;
  if (page.causes) out["parts"] = causes_json(*page.causes);
  if (page.measured) {
    json measured = json::object();
    put(measured, "run_on", "_mm3", melt::run_on_at_flow(*page.measured, page.at_flow_mm3_s));
    put(measured, "lag", "_s", melt::lag_at_flow(*page.measured, page.at_flow_mm3_s));
    out["measured"] = measured;
  }
  if (page.finding) out["finding"] = finding_json(*page.finding);
  if (page.now) {
    out["now"] = change_json(*page.now);
    out["changes"] = json::array();
    for (ChangeRow const& row : page.changes) out["changes"].push_back(change_json(row));
    out["small_changes"] = json::array();
    for (melt::Change const& change : page.small_changes)
      out["small_changes"].push_back(change_json(change));
  }
  if (page.back_leak) {
    out["back_leak"] = {{"no_figure_because", page.back_leak->because}};
    if (page.back_leak->mm3_s) out["back_leak"]["mm3_s"] = *page.back_leak->mm3_s;
  }
  if (page.residence) out["residence"] = to_json(*page.residence);
  if (page.barrier) out["heat_barrier"] = to_json(*page.barrier);
  return out;
}

}  // namespace meltlag::report
