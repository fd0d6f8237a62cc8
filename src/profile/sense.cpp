// SPDX-License-Identifier: MIT
#include "sense.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "meltlag/base/text.hpp"

namespace meltlag::profile {
namespace {

// Bounds far outside of what anybody builds, so that only slips are caught; the usual ranges are
// common practice of small machines, from memory.
struct Sense {
  std::string_view section, key;
  double least, most;
  std::string_view usual;
};

constexpr auto senses = std::to_array<Sense>({
    {"feed", "slicer_diameter_mm", 0.5, 100, "1.75 or 2.85 mm"},
    {"feed", "delivered_factor", 0.02, 50, "0.6 to 1.3"},
    {"feed", "backlash_mm", 0, 100, "0 to 2 mm"},
    {"feed", "reverse_factor", 0.02, 50, "0.5 to 1"},
    {"feed", "e_mm_per_turn", 1e-3, 1e5, "1 to 500 mm"},
    {"lag", "run_on_mm3", 0, 1e4, "0.1 to 50 mm³"},
    {"lag", "at_flow_mm3_s", 0, 1e3, "1 to 20 mm³/s"},
    {"lag", "flow_index", 0.02, 10, "0.2 to 1"},
    {"lag", "at_c", 0, 600, "150 to 300 °C"},
    {"barrel", "tip_gap_mm", 0, 500, "0 to 10 mm"},
    {"barrel", "screw_diameter_mm", 0.5, 300, "6 to 30 mm"},
    {"barrel", "screw_pitch_mm", 0.1, 500, "6 to 40 mm"},
    {"barrel", "air_mm3", 0, 1e6, "0 to 100 mm³"},
    {"barrel", "melt_volume_mm3", 1e-3, 1e8, "200 to 10000 mm³"},
    {"barrel", "hot_end_c", 0, 600, "150 to 300 °C"},
    {"barrel", "cold_end_c", -60, 400, "20 to 80 °C"},
    {"barrel.tube", "length_mm", 0.01, 3000, "3 to 60 mm"},
    {"barrel.tube", "inner_mm", 0.1, 500, "6 to 30 mm"},
    {"barrel.tube", "outer_mm", 0.1, 1000, "8 to 40 mm"},
    {"barrel.tube", "conductivity_w_m_k", 0.005, 3000, "0.2 to 400 W/(m·K)"},
    {"barrel.sections", "length_mm", 0.01, 3000, "10 to 200 mm"},
    {"barrel.sections", "bore_mm", 0.1, 300, "6 to 30 mm"},
    {"nozzle", "diameter_mm", 0.05, 20, "0.4 to 2 mm"},
    {"nozzle", "hole_length_mm", 0.01, 300, "0.5 to 5 mm"},
    {"nozzle", "entrance_mm", 0, 1000, "0 to 10 mm"},
    {"nozzle", "ooze_mm3_s", 0, 100, "0 to 0.5 mm³/s"},
    {"mechanics.parts", "n_per_mm", 0.1, 1e9, "100 to 50000 N/mm"},
    {"mechanics.parts", "deflection_mm", 0, 50, "0.01 to 0.5 mm"},
    {"mechanics", "friction_n", 0, 1e6, "0 to 200 N"},
    {"material", "density_g_cm3", 0.05, 25, "0.9 to 1.5 g/cm³"},
    {"material", "bulk_modulus_mpa", 1, 1e6, "500 to 2500 MPa"},
    {"material", "consistency_pa_sn", 1e-3, 1e9, "500 to 30000 Pa·sⁿ"},
    {"material", "flow_index", 0.02, 10, "0.2 to 1"},
    {"material", "at_c", 0, 600, "150 to 300 °C"},
    {"material", "activation_kj_mol", -1e4, 1e4, "20 to 150 kJ/mol"},
    {"material", "longest_residence_s", 1, 1e7, "300 to 3600 s"},
    {"material", "sticks_c", -60, 600, "50 to 150 °C"},
    {"material", "softens_c", -60, 600, "100 to 260 °C"},
    {"material", "conductivity_w_m_k", 0.005, 100, "0.1 to 0.5 W/(m·K)"},
    {"material", "heat_capacity_j_g_k", 0.05, 50, "1.2 to 2.5 J/(g·K)"},
    {"machine", "acceleration_mm_s2", 5, 1e6, "300 to 10000 mm/s²"},
    {"machine", "travel_acceleration_mm_s2", 5, 1e6, "300 to 10000 mm/s²"},
    {"machine", "retract_acceleration_mm_s2", 5, 1e6, "300 to 10000 mm/s²"},
    {"machine", "corner_rounding_mm", 0, 10, "0.01 to 0.1 mm"},
    {"machine", "corner_jump_mm_s", 0, 2000, "0.2 to 20 mm/s"},
    {"machine", "max_speed_mm_s", 0.05, 2e4, "5 to 500 mm/s"},
    {"machine", "max_acceleration_mm_s2", 1, 1e7, "100 to 10000 mm/s²"},
    {"machine", "shortest_cut_ms", 0.1, 1e4, "10 to 50 ms"},
    {"machine", "max_lines_per_s", 1, 1e6, "50 to 1000"},
    {"limits", "max_flow_mm3_s", 0, 1e4, "2 to 50 mm³/s"},
    {"limits", "burst_mm3", 0, 1e5, "0 to 20 mm³"},
    {"limits", "max_burst_mm3_s", 0, 1e5, "5 to 100 mm³/s"},
    {"limits", "max_pressure_mpa", 0, 1e4, "2 to 50 MPa"},
    {"limits", "max_thrust_n", 0, 1e7, "50 to 3000 N"},
    {"limits", "cold_below_c", 0, 600, "150 to 220 °C"},
});

std::string_view digits_of(std::string_view text) {
  auto const end = std::ranges::find_if_not(text, is_digit);
  return text.substr(0, static_cast<std::size_t>(end - text.begin()));
}

}  // namespace

std::string makes_no_sense(std::string_view section, std::string_view key, double value) {
  auto const found = std::ranges::find_if(
      senses, [&](Sense const& sense) { return sense.section == section && sense.key == key; });
  if (found == senses.end() || (value >= found->least && value <= found->most)) return {};
  return fmt::format("that cannot be meant; usual: {}", found->usual);
}

std::optional<std::string> with_decimal_point(std::string_view line) {
  std::size_t const equals = line.find('=');
  if (equals == std::string_view::npos) return std::nullopt;
  std::string_view rest = trim(line.substr(equals + 1));
  std::string_view const sign = rest.substr(0, rest.starts_with('-') || rest.starts_with('+'));
  rest.remove_prefix(sign.size());
  std::string_view const whole = digits_of(rest);
  if (whole.empty() || !rest.substr(whole.size()).starts_with(',')) return std::nullopt;
  std::string_view const part = digits_of(rest.substr(whole.size() + 1));
  if (part.empty()) return std::nullopt;
  return fmt::format("{}{}.{}", sign, whole, part);
}

}  // namespace meltlag::profile
