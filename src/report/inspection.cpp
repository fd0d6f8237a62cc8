// SPDX-License-Identifier: MIT
#include "meltlag/report/inspection.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/melt/parts.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using adapt::Bounds3;
using adapt::Inspection;
using nlohmann::json;

class Lines {
 public:
  void add(std::string_view name, std::string const& value) {
    rows_.append_row(text_, {std::string(name), value});
  }
  [[nodiscard]] std::string const& text() const { return text_; }

 private:
  Table rows_{{{"", "", 24, Align::left}, {"", "", 55, Align::left}}};
  std::string text_;
};

std::string both(bool first, bool second, std::string_view a, std::string_view b) {
  if (first && second) return fmt::format("{} and {}", a, b);
  return first ? std::string(a) : second ? std::string(b) : "none";
}

std::string box(Bounds3 const& b) {
  if (b.empty()) return "none";
  return fmt::format("X {}…{}  Y {}…{}  Z {}…{} mm",
                     number(b.least_mm.x, 2),
                     number(b.most_mm.x, 2),
                     number(b.least_mm.y, 2),
                     number(b.most_mm.y, 2),
                     number(b.least_mm.z, 2),
                     number(b.most_mm.z, 2));
}

// The melt's mean residence time while printing, and the longest with a standstill in it.
struct Residences {
  double mean_s, longest_s;
};
std::optional<Residences> residences(InspectionTable const& table) {
  Inspection const& f = table.file;
  if (!table.melt_volume_mm3 || f.mean_flow_mm3_s <= 0) return std::nullopt;
  double const mean = melt::mean_residence_s(*table.melt_volume_mm3, f.mean_flow_mm3_s);
  return Residences{mean, mean + f.longest_standstill_s};
}

void add_flow(Lines& lines, InspectionTable const& table) {
  Inspection const& f = table.file;
  lines.add("plastic wanted",
            fmt::format("{} mm³{}, purged besides: {} mm³",
                        fixed(f.wanted_mm3, 1),
                        f.purge_line_mm3 > 0 ? fmt::format(" with {} mm³ on a line before the part",
                                                           fixed(f.purge_line_mm3, 1))
                                             : "",
                        fixed(f.purged_mm3, 1)));
  if (f.prints == 0) return;
  lines.add("flow while printing",
            fmt::format("mean {} mm³/s, peak {} mm³/s (line {})",
                        fixed(f.mean_flow_mm3_s, 2),
                        fixed(f.peak_flow_mm3_s, 2),
                        f.peak_line));
  if (table.max_flow_mm3_s && f.printing_s > 0) {
    lines.add(fmt::format("above {} mm³/s", number(*table.max_flow_mm3_s, 2)),
              percent(f.above_max_flow_s / f.printing_s) + " of the printing time");
  }
  lines.add("longest standstill",
            f.standstill_line == 0
                ? "none"
                : fmt::format(
                      "{}, ends in line {}", duration(f.longest_standstill_s), f.standstill_line));
  if (auto const residence = residences(table)) {
    lines.add("residence time",
              fmt::format("mean {}, with the longest standstill {}",
                          duration(residence->mean_s),
                          duration(residence->longest_s)));
  }
}

std::string code_table(Inspection const& file) {
  Table const table({{"code", "", 8, Align::left}, {"lines", "", 10}, {"", "", 30, Align::left}});
  std::string out = "code          lines\n";
  for (adapt::CodeCount const& code : file.codes) {
    bool const modelled = code.handling == adapt::Handling::modelled;
    table.append_row(
        out, {code.code, std::to_string(code.lines), modelled ? " modelled" : " passes through"});
  }
  return out;
}

json box_json(Bounds3 const& b) {
  if (b.empty()) return nullptr;
  return {{"least_mm", {b.least_mm.x, b.least_mm.y, b.least_mm.z}},
          {"most_mm", {b.most_mm.x, b.most_mm.y, b.most_mm.z}}};
}

json modes_json(Inspection const& f) {
  return {{"units", both(f.millimetres, f.inches, "mm", "inches")},
          {"positions", both(f.absolute_xyz, f.relative_xyz, "absolute", "relative")},
          {"e", both(f.absolute_e, f.relative_e, "absolute", "relative")},
          {"e_mode_stated", !f.e_mode_never_stated}};
}

json codes_json(Inspection const& file) {
  json out = json::array();
  for (adapt::CodeCount const& code : file.codes) {
    out.push_back({{"code", code.code},
                   {"lines", code.lines},
                   {"modelled", code.handling == adapt::Handling::modelled}});
  }
  return out;
}

}  // namespace

std::vector<std::string> warnings(InspectionTable const& table) {
  Inspection const& f = table.file;
  std::vector<std::string> out;
  if (f.adapted_already)
    out.emplace_back("the file was adapted already: adapt the original instead");
  if (f.firmware_side_lag) {
    out.emplace_back(
        "the file sets a lag handling in the printer's firmware: switch it off there, or "
        "lag is handled twice");
  }
  if (!f.volumetric_said) {
    std::string volumetric = adapt::looks_volumetric(f.upper_widths, table.nozzle_mm);
    if (!volumetric.empty()) out.push_back(std::move(volumetric));
  }
  if (f.e_mode_never_stated) {
    out.emplace_back("neither M82 nor M83 before the first E: the printer may take E otherwise");
  }
  if (table.max_flow_mm3_s && f.peak_flow_mm3_s > *table.max_flow_mm3_s) {
    out.push_back(
        fmt::format("the file asks for up to {} mm³/s, more than the {} mm³/s that the "
                    "screw feeds: print slower or thinner",
                    fixed(f.peak_flow_mm3_s, 1),
                    number(*table.max_flow_mm3_s, 2)));
  }
  if (f.prints > 0 && !f.purged_after_heat) {
    out.emplace_back(
        "no purge between heating and the first bead: the first of it may come late or "
        "be old");
  }
  auto const residence = residences(table);
  if (residence && table.longest_residence_s && residence->longest_s > *table.longest_residence_s) {
    out.push_back(
        fmt::format("melt stays in the barrel for up to {}, longer than the {} that the "
                    "material bears",
                    duration(residence->longest_s),
                    duration(*table.longest_residence_s)));
  }
  if (f.prints == 0) out.emplace_back("the file extrudes nothing while the head moves");
  return out;
}

std::string to_text(InspectionTable const& table) {
  Inspection const& f = table.file;
  Lines lines;
  lines.add("lines, moves", fmt::format("{}, {} ({} arcs)", f.lines, f.moves, f.arcs));
  lines.add("print, travel, E only", fmt::format("{}, {}, {}", f.prints, f.travels, f.e_only));
  lines.add("units", both(f.millimetres, f.inches, "mm", "inches"));
  lines.add("positions", both(f.absolute_xyz, f.relative_xyz, "absolute", "relative"));
  lines.add("E", both(f.absolute_e, f.relative_e, "absolute", "relative"));
  lines.add("beads lie within", box(f.beads));
  lines.add("the head goes", box(f.head));
  lines.add(
      "planned time",
      duration(f.planned_s) + ", of it printing " + duration(f.printing_s) + "; waits not counted");
  lines.add("way",
            fmt::format("printing {:.2f} m, travel {:.2f} m",
                        f.print_length_mm / 1000,
                        f.travel_length_mm / 1000));
  lines.add("layers",
            f.layers == 0 ? "none"
                          : fmt::format("{}, the first at {} mm, mostly {} mm high",
                                        f.layers,
                                        number(f.first_layer_mm, 3),
                                        number(f.layer_mm, 3)));
  if (adapt::WidthFacts const& w = f.widths; w.usual_mm > 0)
    lines.add("bead width",
              fmt::format("mostly {} mm, nine tenths within {} to {} mm",
                          number(w.usual_mm, 2),
                          number(w.least_mm, 2),
                          number(w.most_mm, 2)));
  add_flow(lines, table);
  std::string out = lines.text() + "\n" + code_table(f);
  auto const section = [&](std::string_view title, std::string const& text) {
    if (!text.empty()) out += fmt::format("\n{}:\n{}", title, text);
  };
  std::string warned;
  for (std::string const& warning : warnings(table)) warned += list_item(warning);
  section("Look at these first", warned);
  section("Noted", to_text(table.notices));
  return out;
}

namespace {

json widths_json(adapt::WidthFacts const& widths) {
  return {{"least", widths.least_mm}, {"usual", widths.usual_mm}, {"most", widths.most_mm}};
}

}  // namespace

json to_json(InspectionTable const& table) {
  Inspection const& f = table.file;
  json out = {{"lines", f.lines},
              {"moves", f.moves},
              {"arcs", f.arcs},
              {"print_moves", f.prints},
              {"travel_moves", f.travels},
              {"e_only_moves", f.e_only},
              {"bead_width_mm", widths_json(f.widths)},
              {"adapted_already", f.adapted_already},
              {"beads", box_json(f.beads)},
              {"head", box_json(f.head)},
              {"planned_s", f.planned_s},
              {"printing_s", f.printing_s},
              {"print_length_mm", f.print_length_mm},
              {"travel_length_mm", f.travel_length_mm},
              {"layers", f.layers},
              {"first_layer_mm", f.first_layer_mm},
              {"layer_mm", f.layer_mm},
              {"wanted_mm3", f.wanted_mm3},
              {"purged_mm3", f.purged_mm3},
              {"purge_line_mm3", f.purge_line_mm3},
              {"peak_flow_mm3_s", f.peak_flow_mm3_s},
              {"peak_flow_line", f.peak_line},
              {"mean_flow_mm3_s", f.mean_flow_mm3_s},
              {"longest_standstill_s", f.longest_standstill_s},
              {"codes", codes_json(f)},
              {"warnings", warnings(table)},
              {"notices", to_json(table.notices)}};
  out.update(modes_json(f));
  if (table.max_flow_mm3_s && f.printing_s > 0) {
    out["max_flow_mm3_s"] = *table.max_flow_mm3_s;
    out["above_max_flow_share"] = f.above_max_flow_s / f.printing_s;
  }
  if (auto const residence = residences(table)) {
    out["mean_residence_s"] = residence->mean_s;
    out["longest_residence_s"] = residence->longest_s;
  }
  return out;
}

}  // namespace meltlag::report
