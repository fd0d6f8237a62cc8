// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <cmath>
#include <filesystem>

#include "document.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/profile/profile.hpp"
#include "read_machine.hpp"
#include "read_parts.hpp"
#include "schema.hpp"
#include "section.hpp"

namespace meltlag::profile {
namespace {

// The sections of one document.
class Document {
 public:
  Document(toml::table const& root, std::string const& name, Deviations* deviations)
      : root_(root), file_{.file = name}, deviations_(deviations) {
    for (std::string_view const section : section_names())
      if (auto const* node = root_.get(section); node && !node->is_table() && section != "measured")
        throw Error(fmt::format("'{}' is not a section", section),
                    place_of(node->source()),
                    fmt::format("write [{}] on a line of its own and its keys below", section));
  }

  Section top() const { return {&root_, "", "", file_, deviations_}; }
  Section section(std::string const& name) const {
    toml::node const* node = root_.get(name);
    return {node ? node->as_table() : nullptr, name, name, file_, deviations_};
  }

 private:
  toml::table const& root_;
  Place file_;
  Deviations* deviations_;
};

void read_feed(Section const& section, Profile& profile) {
  melt::Feed& feed = profile.feed;
  feed.slicer_diameter_mm = section.number("slicer_diameter_mm", Rule::positive).value_or(1.75);
  feed.delivered_factor = section.number("delivered_factor", Rule::positive).value_or(1.0);
  feed.backlash_mm = section.number("backlash_mm", Rule::not_negative).value_or(0.0);
  feed.reverse_factor = section.number("reverse_factor", Rule::positive).value_or(1.0);
  profile.e_mm_per_turn = section.number("e_mm_per_turn", Rule::positive);
}

void read_lag(Section const& section, Profile& profile) {
  profile.leak_per_s = section.number("leak_per_s", Rule::not_negative).value_or(0.0);
  profile.creep_share = section.number("creep_share", Rule::up_to_one).value_or(0.0);
  std::optional<double> const creep_s = section.number("creep_s", Rule::positive);
  if (profile.creep_share > 0 && !creep_s) section.throw_missing("creep_s");
  profile.creep_s = creep_s.value_or(0.0);

  double const correlation =
      section.number("run_on_flow_index_correlation", Rule::any).value_or(0.0);
  if (std::abs(correlation) > 1)
    throw Error(fmt::format("{} is {}: it must lie between -1 and 1",
                            section.shown("run_on_flow_index_correlation"),
                            correlation),
                section.place("run_on_flow_index_correlation"),
                section.hint("run_on_flow_index_correlation"));
  profile.lag_origin = {.run_on_flow_index_correlation = correlation,
                        .measured_on = section.text("measured_on").value_or(""),
                        .measured_with = section.text("measured_with").value_or(""),
                        .nozzle_mm = section.number("measured_nozzle_mm", Rule::positive)};

  // Leak and creep may be known while the run-on is still to be measured or computed from the
  // parts.
  bool measured = false;
  for (std::string_view const key : {"run_on_mm3", "at_flow_mm3_s", "flow_index", "at_c"})
    measured = measured || section.has(key);
  if (!measured) return;
  profile.measured_lag =
      melt::LagLaw{.run_on_mm3 = section.need("run_on_mm3", Rule::positive),
                   .at_flow_mm3_s = section.need("at_flow_mm3_s", Rule::positive),
                   .flow_index = section.need("flow_index", Rule::positive),
                   .at_c = section.number("at_c", Rule::any),
                   .activation_kj_mol = std::nullopt};
}

void read_bounds(Section const& section, Bounds& bounds) {
  bounds.max_flow_mm3_s = section.number("max_flow_mm3_s", Rule::positive);
  if (auto const burst = section.number("burst_mm3", Rule::not_negative)) bounds.burst_mm3 = *burst;
  bounds.max_burst_mm3_s = section.number("max_burst_mm3_s", Rule::positive);
  bounds.max_pressure_mpa = section.number("max_pressure_mpa", Rule::positive);
  bounds.max_thrust_n = section.number("max_thrust_n", Rule::positive);
  if (auto const cold = section.number("cold_below_c", Rule::not_negative))
    bounds.cold_below_c = *cold;
}

}  // namespace

Profile parse(std::string_view text, std::string const& name, LoadOptions const& options) {
  LeftLag left;
  toml::table root = read_document(text, name, &left);
  lay_material_under(root, options.share_dir);
  Profile profile{};
  Document const document(root, name, &profile.sd);
  profile.path = name;
  profile.title = document.top().text("title").value_or(system::path_of(name).stem().string());
  profile.notes = document.top().text("notes").value_or("");
  profile.date = document.top().text("date").value_or("");
  read_feed(document.section("feed"), profile);
  read_lag(document.section("lag"), profile);
  read_barrel(document.section("barrel"), profile);
  read_nozzle(document.section("nozzle"), profile);
  read_mechanics(document.section("mechanics"), profile);
  read_material(document.section("material"), profile);
  read_heat_barrier(document.section("barrel"), profile);
  read_measured(document.top(), profile);
  read_machine(document.section("machine"), profile);
  read_bounds(document.section("limits"), profile.bounds);
  if (!left.base.empty() && !profile.measured_lag)
    profile.lag_left_behind = fmt::format(
        "The lag of {} is not taken over, as {} is another: measure it again on this build.",
        left.base,
        left.differs);
  return profile;
}

Profile load(std::string const& path, LoadOptions const& options) {
  return parse(read_text(path, "profile"), path, options);
}

}  // namespace meltlag::profile
