// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numbers>

#include "commands.hpp"

namespace meltlag::gcode {
namespace {

// Codes that change neither path, flow nor time as computed here. Sorted.
constexpr int harmless[] = {17,  18,  20,  21,  23,  27,  28,  29,  30,  31,  32,  42,  70,
                            72,  73,  75,  76,  77,  78,  84,  85,  86,  105, 106, 107, 108,
                            110, 111, 112, 113, 114, 115, 117, 118, 119, 120, 121, 140, 141,
                            142, 144, 150, 155, 191, 240, 245, 246, 280, 300, 301, 303, 304,
                            305, 355, 412, 413, 420, 486, 500, 503, 555, 862};
// Codes followed by free text or a file name. Sorted.
constexpr int with_text[] = {0,  1,  16, 20,  23,  28,  29,  30,  32,  33,
                             36, 37, 38, 117, 118, 291, 486, 550, 587, 928};

static_assert(std::ranges::is_sorted(harmless) && std::ranges::is_sorted(with_text));

constexpr double above_zero = std::numeric_limits<double>::min();

void set_firmware_side_lag(Line const& line, Words words, char letter) {
  if (value_or(words, letter, 1) == 0) return;  // switches it off
  line.note("the file sets a firmware-side lag handling; switch it off, or lag is handled twice");
}

void set_temperature(Line const& line, Words words) {
  Modal& modal = line.modal;
  double const wanted = value_or(words, 'S', value_or(words, 'R', NozzleTemperatures::unknown));
  if (!std::isfinite(wanted)) return;
  double const tool = value_or(words, 'T', modal.tool);
  bool const own = tool >= 0 && tool < NozzleTemperatures::tools;
  modal.temperatures.set(own ? static_cast<int>(tool) : -1, wanted);
  if (!own || tool == modal.tool) modal.temperatures.common_c = wanted;
  modal.nozzle_c = modal.temperatures.at(modal.tool);
}

// M200 D sets the filament diameter and takes E as mm³; D0 or S0: E is mm again.
void set_volumetric(Line const& line, Word const& command, Words words) {
  Modal& modal = line.modal;
  double const diameter = value_or(words, 'D', -1) * modal.mm_per_unit;
  double const on = value_or(words, 'S', diameter == 0 ? 0 : 1);
  if (diameter > 0 && std::isfinite(diameter)) modal.volumetric_diameter_mm = diameter;
  if (diameter < 0 && find(words, 'S') == nullptr) return line.note_not_modelled(command);
  if (find(words, 'T') != nullptr) line.note_word_not_modelled(command, 'T');
  modal.volumetric = on != 0;
  if (modal.volumetric && modal.volumetric_diameter_mm == 0) {
    line.note("M200 S1 before any D: the slicer's filament diameter is taken");
    modal.volumetric_diameter_mm = 2 * std::sqrt(modal.slicer_area_mm2 / std::numbers::pi);
  }
}

void note_other_words(Line const& line, Word const& command, Words words, std::string_view known) {
  for (Word const& word : words) {
    if (known.find(word.letter) != std::string_view::npos) continue;
    line.note_word_not_modelled(command, word.letter);
  }
}

// M201, M203, M205: one value per axis, in the units in force.
void set_per_axis(
    Line const& line, Word const& command, Words words, SettingKind kind, double smallest) {
  Setting setting{.line = line.block.line, .kind = kind};
  note_other_words(line, command, words, "XYZE");
  bool any = false;
  auto const take = [&](char letter, double& target) {
    double const value = value_or(words, letter, Setting::none) * line.modal.mm_per_unit;
    if (std::isnan(value)) return;
    if (!(value >= smallest) || !std::isfinite(value)) {
      line.note("a machine limit that is zero, negative or too large: ignored");
      return;
    }
    target = value;
    any = true;
  };
  take('X', setting.x);
  take('Y', setting.y);
  take('Z', setting.z);
  take('E', setting.e);
  if (any) line.sink.on_setting(setting);
}

void set_acceleration(Line const& line, Word const& command, Words words) {
  Setting setting{.line = line.block.line, .kind = SettingKind::acceleration};
  bool const has_p = find(words, 'P') != nullptr;
  auto const take = [&](char letter) {
    double const value = value_or(words, letter, Setting::none) * line.modal.mm_per_unit;
    if (std::isnan(value)) return Setting::none;
    if (value > 0 && std::isfinite(value)) return value;
    line.note("M204 that is zero, negative or too large: ignored");
    return Setting::none;
  };
  setting.all = take(has_p ? 'P' : 'S');
  if (has_p) setting.travel = take('T');
  setting.retract = take('R');
  note_other_words(line, command, words, has_p ? "PTSR" : "SR");
  bool const any = !std::isnan(setting.all) || !std::isnan(setting.travel);
  if (any || !std::isnan(setting.retract)) line.sink.on_setting(setting);
}

// M220, M221: percent.
void set_share(Line const& line, Word const& command, Words words, double& share, double smallest) {
  double const tool = value_or(words, 'T', line.modal.tool);
  note_other_words(line, command, words, "ST");
  if (find(words, 'S') == nullptr) return;
  if (tool != line.modal.tool) return line.note_word_not_modelled(command, 'T');
  double const percent = value_or(words, 'S', -1);
  constexpr double largest_percent = 1e6;
  if (percent >= smallest && percent <= largest_percent) {
    share = percent / 100;
  } else {
    line.note("M220 or M221 with a share that makes no sense: ignored");
  }
}

void set_retract(Line const& line, Word const& command, Words words) {
  FirmwareRetract& retract = line.modal.retract;
  double const unit = line.modal.mm_per_unit;
  note_other_words(line, command, words, "SFZ");
  double const length = value_or(words, 'S', -1) * unit;
  double const feed = value_or(words, 'F', -1) * unit / 60;
  if (length >= 0 && std::isfinite(length)) {
    retract.length_mm = length;
    retract.length_given = true;
  }
  if (feed > 0 && std::isfinite(feed)) retract.feed_mm_s = retract.recovery_feed_mm_s = feed;
  if (find(words, 'Z') != nullptr) retract.lift_mm = value_or(words, 'Z', 0) * unit;
  if (retract.lift_mm != 0) {
    line.note("M207 with Z: the lift is not modelled, G10 and G11 stay as they are");
  }
}

void set_recovery(Line const& line, Word const& command, Words words) {
  FirmwareRetract& retract = line.modal.retract;
  double const unit = line.modal.mm_per_unit;
  note_other_words(line, command, words, "SF");
  double const extra = value_or(words, 'S', Setting::none) * unit;
  double const feed = value_or(words, 'F', -1) * unit / 60;
  if (std::isfinite(extra) && retract.length_mm + extra >= 0) retract.extra_recovery_mm = extra;
  if (feed > 0 && std::isfinite(feed)) retract.recovery_feed_mm_s = feed;
}

void set_e_mode(Line const& line, bool relative) {
  line.modal.e_relative = relative;
  line.modal.e_mode_stated = true;
}

// Each of these: false where the code is none of its own.
bool executes_halt(Line const& line, int number, Words words) {
  switch (number) {
    case 109:
      set_temperature(line, words);
      [[fallthrough]];
    case 0:
    case 1:
    case 190:
    case 600:
      line.halt(HaltKind::wait);
      return true;
    case 400:
      line.halt(HaltKind::stop);
      return true;
    default:
      return false;
  }
}

// What the printer's own limits are from here on.
bool executes_limit(Line const& line, Word const& command, Words words, int number) {
  switch (number) {
    case 201:
      set_per_axis(line, command, words, SettingKind::max_acceleration, above_zero);
      return true;
    case 203:
      set_per_axis(line, command, words, SettingKind::max_speed, above_zero);
      return true;
    case 204:
      set_acceleration(line, command, words);
      return true;
    case 205:
      set_per_axis(line, command, words, SettingKind::corner_jump, 0);
      return true;
    default:
      return false;
  }
}

// What E means from here on, how much of it is turned, and how hot the nozzle is.
bool executes_flow(Line const& line, Word const& command, Words words, int number) {
  switch (number) {
    case 82:
    case 83:
      set_e_mode(line, number == 83);
      return true;
    case 104:
      set_temperature(line, words);
      return true;
    case 200:
      set_volumetric(line, command, words);
      return true;
    case 207:
      set_retract(line, command, words);
      return true;
    case 208:
      set_recovery(line, command, words);
      return true;
    case 220:
      set_share(line, command, words, line.modal.feed_share, 1e-3);
      return true;
    case 221:
      set_share(line, command, words, line.modal.flow_share, 0);
      return true;
    case 572:
    case 900:
      set_firmware_side_lag(line, words, number == 572 ? 'S' : 'K');
      return true;
    default:
      return false;
  }
}

}  // namespace

bool takes_text(Code m_code) {
  return std::binary_search(std::begin(with_text), std::end(with_text), m_code.number);
}

void execute_m(Line const& line, Word const& command, Words words) {
  Code const code = code_of(command);
  if (code.sub == 0 && (executes_halt(line, code.number, words) ||
                        executes_limit(line, command, words, code.number) ||
                        executes_flow(line, command, words, code.number)))
    return;
  if (!std::binary_search(std::begin(harmless), std::end(harmless), code.number))
    line.note_not_modelled(command);
}

}  // namespace meltlag::gcode
