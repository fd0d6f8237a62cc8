// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <iterator>

#include "commands.hpp"
#include "meltlag/base/text.hpp"

namespace meltlag::gcode {
namespace {

constexpr double mm_per_inch = 25.4;

struct Axis {
  char letter;
  double Vec3::*of;
};
constexpr Axis linear_axes[] = {{'X', &Vec3::x}, {'Y', &Vec3::y}, {'Z', &Vec3::z}};

bool names_an_axis(Words words) {
  return find(words, 'X') != nullptr || find(words, 'Y') != nullptr || find(words, 'Z') != nullptr;
}

void dwell(Line const& line, Words words) {
  double const seconds = value_or(words, 'S', value_or(words, 'P', 0) / 1000);
  if (!(seconds >= 0) || !std::isfinite(seconds)) {
    line.note("G4 with a time that is negative or too large: taken as no time");
  }
  bool const usable = seconds > 0 && std::isfinite(seconds);
  line.sink.on_halt(
      {.line = line.block.line, .kind = HaltKind::dwell, .dwell_s = usable ? seconds : 0});
}

void home(Line const& line, Words words) {
  bool const all = !names_an_axis(words);
  for (Axis const& axis : linear_axes) {
    if (!all && find(words, axis.letter) == nullptr) continue;
    line.modal.position_mm.*axis.of = 0;
    line.modal.origin_mm.*axis.of = 0;
  }
  line.halt(HaltKind::wait);
}

// Renames the point where the head is; the machine's own position stays.
void rename_position(Line const& line, Words words) {
  Modal& modal = line.modal;
  bool const all = !names_an_axis(words) && find(words, 'E') == nullptr;
  if (all) line.note("G92 without X Y Z E: all of them set to 0");
  for (Axis const& axis : linear_axes) {
    if (!all && find(words, axis.letter) == nullptr) continue;
    double const value = value_or(words, axis.letter, 0) * modal.mm_per_unit;
    if (!(std::abs(value) <= largest_coordinate_mm)) {
      line.note("G92 beyond 1000000 mm: ignored");
      continue;
    }
    double& position = modal.position_mm.*axis.of;
    modal.origin_mm.*axis.of += position - value;
    position = value;
  }
  if (!all && find(words, 'E') == nullptr) return;
  double const e = value_or(words, 'E', 0) * modal.mm_per_unit;
  if (std::isfinite(e)) modal.e_register_mm = e;
  modal.last_e_word = 0;
}

void clear_offsets(Line const& line) {
  line.modal.position_mm = line.modal.position_mm + line.modal.origin_mm;
  line.modal.origin_mm = {};
}

// G10 with words: a temperature (S) or a tool's offset.
void set_tool_data(Line const& line, Word const& command, Words words) {
  Modal& modal = line.modal;
  Word const* const temperature = find(words, 'S');
  Word const* const tool = find(words, 'P');
  bool const tool_change_retract =
      temperature != nullptr && tool == nullptr && temperature->value == 1;
  if (temperature == nullptr || !temperature->has_value || tool_change_retract) {
    line.note_not_modelled(command);
    return;
  }
  double const wanted = value_or(words, 'P', modal.tool);
  int const index =
      wanted >= 0 && wanted < NozzleTemperatures::tools ? static_cast<int>(wanted) : -1;
  modal.temperatures.set(index, temperature->value);
  if (index == modal.tool) modal.temperatures.common_c = temperature->value;
  modal.nozzle_c = modal.temperatures.at(modal.tool);
  for (char const letter : {'L', 'R', 'X', 'Y', 'Z'}) {
    if (find(words, letter) != nullptr) line.note_word_not_modelled(command, letter);
  }
}

// Any other code may move the head: what comes before it must have come out.
void pass_unknown(Line const& line, Word const& command, Words words) {
  line.note_not_modelled(command);
  line.halt(HaltKind::stop);
  if (code_of(command).number != 5) return;
  Vec3& position = line.modal.position_mm;  // G5 is a curve to X Y: where it ends is known
  for (Axis const& axis : linear_axes) {
    double const value = value_or(words, axis.letter, std::nan("")) * line.modal.mm_per_unit;
    if (!(std::abs(value) <= largest_coordinate_mm)) continue;
    position.*axis.of = line.modal.xyz_relative ? position.*axis.of + value : value;
  }
  double const e = value_or(words, 'E', std::nan("")) * line.modal.mm_per_unit;
  if (!std::isfinite(e)) return;
  line.modal.e_register_mm = line.modal.e_is_relative() ? line.modal.e_register_mm + e : e;
}

void set_distance_mode(Line const& line, bool relative) {
  line.modal.xyz_relative = relative;
  line.modal.e_rises = 0;
  line.modal.last_e_word = 0;
}

}  // namespace

bool is_modal_g(Code code) {
  constexpr int known[] = {17, 18, 19, 20, 21, 40, 49, 54, 61, 64, 80, 90, 91, 94};
  return code.sub == 0 && std::binary_search(std::begin(known), std::end(known), code.number);
}

bool apply_modal_g(Line const& line, Code code) {
  if (!is_modal_g(code)) return false;
  switch (code.number) {
    case 17:
      line.modal.plane = Plane::xy;
      break;
    case 18:
      line.modal.plane = Plane::zx;
      break;
    case 19:
      line.modal.plane = Plane::yz;
      break;
    case 20:
      line.modal.mm_per_unit = mm_per_inch;
      break;
    case 21:
      line.modal.mm_per_unit = 1;
      break;
    case 90:
      set_distance_mode(line, false);
      break;
    case 91:
      set_distance_mode(line, true);
      break;
    default:
      break;
  }
  return true;
}

void execute_g(Line const& line, Word const& command, Words words) {
  Code const code = code_of(command);
  if (code == Code{92, 1} || code == Code{92, 2}) return clear_offsets(line);
  if (code.sub != 0) return pass_unknown(line, command, words);
  switch (code.number) {
    case 4:
      return dwell(line, words);
    case 10:
      return set_tool_data(line, command, words);
    case 11:
      return line.note_not_modelled(command);
    case 28:
      return home(line, words);
    case 29:
      return line.halt(HaltKind::wait);
    case 92:
      return rename_position(line, words);
    default:
      return pass_unknown(line, command, words);
  }
}

void execute_t(Line const& line, Word const& command) {
  Modal& modal = line.modal;
  constexpr double largest_tool = 1000;
  double const wanted = command.value;
  int const tool = std::abs(wanted) <= largest_tool ? static_cast<int>(wanted) : -1;
  if (tool != modal.tool) {
    line.note("a tool change: what runs on carries over, and all tools use the one profile");
  }
  modal.tool = tool;
  modal.nozzle_c = modal.temperatures.at(tool);
  line.sink.on_halt(
      {.line = line.block.line, .kind = HaltKind::stop, .dwell_s = 0, .tool_change = true});
}

void pass_macro(Line const& line) {
  if (contains_ignoring_case(line.block.text, "PRESSURE_ADVANCE")) {
    line.note("the file sets a firmware-side lag handling; switch it off, or lag is handled twice");
  }
  line.note(
      "no G, M or T code (a macro, or words without ';'): passed through, the head stops there");
  line.sink.on_halt({.line = line.block.line, .kind = HaltKind::stop, .dwell_s = 0, .macro = true});
}

}  // namespace meltlag::gcode
