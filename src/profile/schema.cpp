// SPDX-License-Identifier: MIT
#include "schema.hpp"

#include <algorithm>
#include <array>

namespace meltlag::profile {
namespace {

using enum KeyKind;

constexpr std::string_view axes_example = "{ x = 10, y = 10, z = 0.4, e = 5 }";

constexpr auto keys = std::to_array<KnownKey>({
    {"", "title", "\"Bench auger\"", "what this machine is called"},
    {"", "notes", "\"rebuilt in May\"", "anything worth remembering"},
    {"", "date", "\"2026-05-17\"", "when the machine was built so"},
    {"", "base", "\"other.toml\"", "another profile from which all keys not given here are taken"},

    {"feed", "slicer_diameter_mm", "1.75", "filament diameter that the slicer reckons with, mm"},
    {"feed", "delivered_factor", "1.0", "delivered / commanded volume", measured},
    {"feed", "play_mm", "0.0", "E that turns without effect after each reversal, mm", measured},
    {"feed",
     "reverse_factor",
     "1.0",
     "share that a reverse stroke relieves of what a forward one fills",
     measured},
    {"feed", "e_mm_per_turn", "3.1", "E for one turn of the screw, mm", measured},

    {"lag",
     "run_on_mm3",
     "5.0",
     "plastic that still comes out after the screw stops, mm³",
     measured},
    {"lag", "at_flow_mm3_s", "5.0", "the steady flow at which the run-on was measured, mm³/s"},
    {"lag",
     "flow_index",
     "0.6",
     "how the run-on grows with the flow: run-on ~ flow^flow_index",
     measured},
    {"lag",
     "run_on_flow_index_correlation",
     "0.0",
     "how the errors of run-on and flow index hang together, -1 to 1"},
    {"lag", "at_c", "200", "nozzle temperature at which the run-on was measured, °C"},
    {"lag",
     "leak_per_s",
     "0.0",
     "share of the run-on that leaks back past the screw each second, 1/s",
     measured},
    {"lag", "creep_share", "0.0", "share of the run-on that is stored only slowly", measured},
    {"lag", "creep_s", "30", "time in which the slow share is stored, s", measured},
    {"lag", "measured_on", "\"2026-05-17\"", "when the run-on was measured"},
    {"lag", "measured_with", "\"pla\"", "plastic that the run-on was measured with"},
    {"lag", "measured_nozzle_mm", "0.8", "nozzle that the run-on was measured with, mm"},

    {"barrel",
     "sections",
     "[{ length_mm = 60, bore_mm = 14, screw_core_mm = 9 }]",
     "steps of the bore that hold melt, from the hopper to the tip"},
    {"barrel", "tip_gap_mm", "2.0", "free length between screw tip and nozzle, mm", measured},
    {"barrel", "screw_diameter_mm", "13.8", "outer diameter of the screw, mm", measured},
    {"barrel", "screw_pitch_mm", "14", "advance of the screw thread in one turn, mm", measured},
    {"barrel", "air_mm3", "0", "air trapped in the melt, measured at room pressure, mm³", measured},
    {"barrel",
     "melt_volume_mm3",
     "4000",
     "melt between hopper and nozzle if measured, mm³",
     measured},
    {"barrel", "hot_end_c", "205", "temperature where the tube meets the hot end, °C", measured},
    {"barrel", "cold_end_c", "45", "temperature where the tube meets the hopper, °C", measured},
    {"barrel", "screw_material", "\"steel\"", "what the screw is made of; needed with a tube"},
    {"barrel",
     "tube",
     "[{ length_mm = 30, inner_mm = 14, outer_mm = 18, material = \"stainless\" }]",
     "tube from the hopper's end to the hot end, in steps; each may stand as [[barrel.tube]]"},
    {"barrel.tube", "length_mm", "30", "length of this step of the tube, mm", measured},
    {"barrel.tube", "inner_mm", "14", "inner diameter, mm", measured},
    {"barrel.tube", "outer_mm", "18", "outer diameter of the wall, mm", measured},
    {"barrel.tube",
     "screw_core_mm",
     "9",
     "diameter of the screw's core in this step, mm; else that of the first section",
     measured},
    {"barrel.tube", "material", "\"stainless\"", "what the wall is made of"},
    {"barrel.tube",
     "conductivity_w_m_k",
     "16",
     "how well the wall conducts heat, W/(m·K), instead of a material",
     measured},
    {"barrel.sections", "length_mm", "60", "length of this step of the bore, mm", measured},
    {"barrel.sections", "bore_mm", "14", "bore diameter, mm", measured},
    {"barrel.sections",
     "screw_core_mm",
     "9",
     "diameter of the screw's core in this step, mm",
     measured},

    {"nozzle", "diameter_mm", "0.8", "diameter of the hole, mm", measured},
    {"nozzle", "hole_length_mm", "2.0", "length of the hole, mm", measured},
    {"nozzle",
     "entrance_mm",
     "0.0",
     "length of hole that costs as much pressure as its entrance does, mm",
     measured},
    {"nozzle", "ooze_mm3_s", "0.0", "what drips when nothing presses, mm³/s", measured},

    {"mechanics",
     "parts",
     "[{ name = \"bracket\", n_per_mm = 800 }]",
     "what holds the screw against its thrust"},
    {"mechanics",
     "load_test",
     "\"loads.csv\"",
     "a table of loads and deflections instead of parts"},
    {"mechanics",
     "friction_n",
     "0.0",
     "friction of the softening plastic on the screw, where it was fitted, N",
     measured},
    {"mechanics.parts", "name", "\"bracket\"", "what the part is called"},
    {"mechanics.parts", "n_per_mm", "800", "axial stiffness of the part, N/mm", measured},
    {"mechanics.parts",
     "give_mm",
     "0.2",
     "how far the part gives way at at_flow_mm3_s, mm",
     measured},
    {"mechanics.parts", "at_flow_mm3_s", "5.0", "the steady flow at which give_mm was read, mm³/s"},

    {"material",
     "use",
     "\"pla\"",
     "a material of materials/NAME.toml; keys given here replace its values"},
    {"material",
     "mix",
     "[{ use = \"pla\", parts = 3 }, { use = \"pp\", parts = 1 }]",
     "instead of use: several materials, by parts of mass"},
    {"material.mix", "use", "\"pla\"", "a material of materials/NAME.toml"},
    {"material.mix", "parts", "3", "how many parts of mass of it are in the mix"},
    {"material", "density_g_cm3", "1.24", "density of the cold plastic, g/cm³", material},
    {"material",
     "bulk_modulus_mpa",
     "1200",
     "stiffness of the melt against compression, MPa",
     material},
    {"material", "consistency_pa_sn", "5000", "consistency of the melt at at_c, Pa·sⁿ", material},
    {"material",
     "flow_index",
     "0.4",
     "shear thinning of the melt, 1 for a Newtonian one",
     material},
    {"material", "at_c", "200", "temperature at which the consistency holds, °C"},
    {"material",
     "activation_kj_mol",
     "80",
     "how the consistency falls with temperature, kJ/mol at constant shear rate",
     material},
    {"material", "longest_stay_s", "600", "longest time the melt may stay hot, s"},
    {"material", "softens_c", "150", "temperature at which granules turn to melt, °C", material},
    {"material",
     "conductivity_w_m_k",
     "0.13",
     "how well the plastic conducts heat, W/(m·K)",
     material},
    {"material", "heat_capacity_j_g_k", "1.8", "heat that warms 1 g by 1 °C, J", material},

    {"machine",
     "settings_report",
     "\"printer.txt\"",
     "a file with the M201 M203 M204 M205 lines that the printer reports"},
    {"machine", "acceleration_mm_s2", "800", "acceleration along the path, mm/s²"},
    {"machine",
     "travel_acceleration_mm_s2",
     "800",
     "acceleration of moves without E if it differs, mm/s²"},
    {"machine",
     "travel_acceleration_holds_for",
     "\"moves without E\"",
     "\"moves without E\" or \"G0\": which moves the travel acceleration holds for"},
    {"machine",
     "retract_acceleration_mm_s2",
     "1500",
     "acceleration of moves of E alone if it is less than E's own, mm/s²"},
    {"machine",
     "stops_halt",
     "false",
     "whether the printer comes to rest before and after a move of E alone"},
    {"machine", "corner_rule", "\"jump\"", "\"jump\" or \"rounding\""},
    {"machine",
     "corner_rounding_mm",
     "0.05",
     "deviation allowed at corners by the rounding rule, mm"},
    {"machine",
     "corner_jump_mm_s",
     axes_example,
     "instantaneous speed change allowed per axis, mm/s"},
    {"machine",
     "max_speed_mm_s",
     "{ x = 300, y = 300, z = 20, e = 60 }",
     "highest speed per axis, mm/s"},
    {"machine",
     "max_acceleration_mm_s2",
     "{ x = 9000, y = 9000, z = 500, e = 5000 }",
     "highest acceleration per axis, mm/s²"},
    {"machine", "shortest_cut_ms", "20", "moves are not cut into pieces shorter than this, ms"},
    {"machine", "buffer_moves", "16", "moves that the printer looks ahead"},
    {"machine", "max_lines_per_s", "200", "lines that the printer can take in each second"},
    {"machine", "min_speed_mm_s", "0", "slowest speed the printer runs at, mm/s"},
    {"machine", "g91_covers_e", "true", "whether G91 makes E relative too"},
    {"machine.axes", "x", "10", "value of the X axis"},
    {"machine.axes", "y", "10", "value of the Y axis"},
    {"machine.axes", "z", "0.4", "value of the Z axis"},
    {"machine.axes", "e", "5", "value of the E axis"},

    {"measured", "date", "\"2026-05-20\"", "when this print was measured"},
    {"measured", "notes", "\"dry shreds\"", "anything worth remembering of this print"},
    {"measured",
     "run_on_mm3",
     "5.0",
     "plastic that still came out after the screw stopped, in this print, mm³"},
    {"measured",
     "at_flow_mm3_s",
     "5.0",
     "the steady flow of that run-on, mm³/s; else that of [lag]"},
    {"measured", "lag_s", "0.6", "lag in this print at [lag]'s flow, s"},
    {"measured", "knob_mm3", "0.4", "excess at a stop, mean of this print as sliced, mm³"},
    {"measured", "gap_mm", "3.5", "missing bead behind a start, mean of this print as sliced, mm"},

    {"limits", "max_flow_mm3_s", "15", "the most the screw feeds for long, mm³/s", measured},
    {"limits",
     "burst_mm3",
     "0",
     "melt that stands ready for a short burst above max_flow_mm3_s, mm³",
     measured},
    {"limits",
     "max_burst_mm3_s",
     "30",
     "the most the screw feeds in a short burst, mm³/s",
     measured},
    {"limits", "max_pressure_mpa", "20", "highest melt pressure, MPa", measured},
    {"limits", "max_thrust_n", "1500", "highest thrust of the screw, N", measured},
    {"limits", "cold_below_c", "170", "nothing is added below this set temperature, °C"},
});

constexpr auto sections = std::to_array<std::string_view>(
    {"feed", "lag", "measured", "barrel", "nozzle", "mechanics", "material", "machine", "limits"});

}  // namespace

std::span<KnownKey const> known_keys() { return keys; }
std::span<std::string_view const> section_names() { return sections; }

KnownKey const* find_key(std::string_view section, std::string_view name) {
  auto const found = std::ranges::find_if(
      keys, [&](KnownKey const& key) { return key.section == section && key.name == name; });
  return found == keys.end() ? nullptr : &*found;
}

std::vector<std::string> names_in(std::string_view section) {
  std::vector<std::string> names;
  for (KnownKey const& key : keys) {
    if (key.section != section) continue;
    std::string const name{key.name};
    names.push_back(name);
    if (key.kind != plain) names.push_back(name + "_sd");
    if (key.kind != material) continue;
    names.push_back(name + "_low");
    names.push_back(name + "_high");
  }
  if (section.empty()) names.insert(names.end(), sections.begin(), sections.end());
  return names;
}

}  // namespace meltlag::profile
