// SPDX-License-Identifier: MIT
// What stays in force from line to line, and what one line needs to be interpreted.
#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <string_view>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/base/vec.hpp"
#include "meltlag/gcode/block.hpp"
#include "meltlag/gcode/move.hpp"

namespace meltlag::gcode {

constexpr double largest_coordinate_mm = 1e6;

enum class Plane : std::uint8_t { xy, zx, yz };  // G17 G18 G19

// Retraction by bare G10 and G11 (M207, M208). Speeds are those of the E axis.
struct FirmwareRetract {
  double length_mm = 1.0, feed_mm_s = 25;
  double extra_recovery_mm = 0, recovery_feed_mm_s = 25;
  double lift_mm = 0;
  bool length_given = false;
  std::uint64_t retracted_tools = 0;  // bit t: tool t is retracted
  std::uint64_t told_tools = 0;       // bit t: by a length that the file had told by then
};

// Set temperatures of the nozzle, °C; NaN until one is set. A tool without its own takes the last
// one that was set without naming a tool.
struct NozzleTemperatures {
  static constexpr std::size_t tools = 16;
  static constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

  NozzleTemperatures() { of_tool_c.fill(unknown); }
  [[nodiscard]] double at(int tool) const;
  void set(int tool, double temperature_c);

  std::array<double, tools> of_tool_c{};
  double common_c = unknown;
};

struct Modal {
  Vec3 position_mm, origin_mm;
  double mm_per_unit = 1;     // 25.4 under G20
  bool xyz_relative = false;  // G91
  bool e_relative = false;    // M83
  bool g91_covers_e = true;
  bool e_mode_stated = false, e_seen = false, e_mode_never_stated = false;
  double e_register_mm = 0;  // sum of E words, times mm_per_unit
  int motion = 1;            // the last of G0 … G3
  Plane plane = Plane::xy;
  double feed_mm_min = 1500;  // before M220
  double feed_share = 1;      // M220
  double flow_share = 1;      // M221
  double slicer_area_mm2 = 1;
  double volumetric_diameter_mm = 0;  // M200 D
  bool volumetric = false;            // M200: E words are mm³
  int tool = 0;
  FirmwareRetract retract;
  NozzleTemperatures temperatures;
  double nozzle_c = NozzleTemperatures::unknown;
  double last_e_word = 0;  // with e_rises: does E under G91 alone keep rising, as if absolute?
  int e_rises = 0;

  [[nodiscard]] bool e_is_relative() const { return e_relative || (g91_covers_e && xyz_relative); }
  // Area by which mm of E become mm³.
  [[nodiscard]] double area_mm2() const {
    return volumetric ? circle_area(volumetric_diameter_mm) : slicer_area_mm2;
  }
  // mm that the E axis turns per mm (or mm³) of the E register.
  [[nodiscard]] double e_scale() const {
    return volumetric ? flow_share / circle_area(volumetric_diameter_mm) : flow_share;
  }
};

// A G, M or T number: G92.1 is {92, 1}; number is -1 when it is none.
struct Code {
  int number = -1;
  int sub = 0;
  friend bool operator==(Code, Code) = default;
};
[[nodiscard]] Code code_of(Word const& word);

// One line being interpreted.
struct Line {
  Modal& modal;
  Notices& notices;
  MeaningSink& sink;
  Block const& block;
  std::string const& file_name;

  void note(std::string_view text) const { notices.note(text, block.line); }
  // "G5: passed through, not modelled"
  void note_not_modelled(Word const& command) const;
  // "M204 with R: that part is not modelled"
  void note_word_not_modelled(Word const& command, char letter) const;
  void halt(HaltKind kind) const { sink.on_halt({.line = block.line, .kind = kind}); }
};

// The words that belong to one command.
using Words = std::span<Word const>;

// The first word with this letter, or nullptr.
[[nodiscard]] Word const* find(Words words, char letter);
// Its value; `otherwise` when there is no such word, or none with a number.
[[nodiscard]] double value_or(Words words, char letter, double otherwise);

}  // namespace meltlag::gcode
