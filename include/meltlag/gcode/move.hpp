// SPDX-License-Identifier: MIT
// What a G-code program means: moves of head and screw, halts, settings. Units: mm, s, mm³, °C.
#pragma once

#include <cstdint>
#include <limits>

#include "meltlag/base/vec.hpp"

namespace meltlag::gcode {

enum class MoveKind : std::uint8_t {
  travel,   // the head moves, the screw stands (E = 0)
  print,    // the head moves and E > 0: printing cells
  unprint,  // the head moves and E < 0 (a wipe): makes a debt
  e_only,   // only the screw turns
};

// A circular arc in the XY plane (or the plane of `axis_a`, `axis_b`, 0 = X, 1 = Y, 2 = Z), helical
// when the third axis moves. sweep_rad > 0 is counter-clockwise. radius_mm = 0: the move is
// straight.
// An end that lies off the circle makes a spiral: radius_mm is that of the start.
struct Arc {
  double centre_a_mm = 0, centre_b_mm = 0;
  double radius_mm = 0;
  double start_rad = 0, sweep_rad = 0;
  std::uint8_t axis_a = 0, axis_b = 1;
};

// How numbers have to be written on a move's line so that they mean the same.
struct WriteMode {
  double mm_per_unit = 1;     // 25.4 under G20
  bool xyz_relative = false;  // G91
  bool e_relative = false;    // M83, or G91 where it covers E
  double e_words_per_mm = 1;  // E word (file units) per mm that the E axis turns (M200, M221, G20)
  double e_word_start =
      0;  // what the file's own E register reads before the move (file units, absolute E)
  double e_word_end = 0;            // and after it
  double feed_words_per_mm_s = 60;  // F word (file units) per mm/s that it makes (M220, G20)
};

// One move of one line. Positions are program coordinates in mm (what the words say); the machine's
// are position + origin_mm (G92 shifts the origin).
struct Move {
  std::int64_t line = 0;  // 1-based
  Vec3 start_mm, end_mm, origin_mm;
  Arc arc;
  double length_mm = 0;   // of the path in X, Y, Z, along the helix for arcs; 0 for e_only
  double e_mm = 0;        // what the E axis turns, signed, M200 and M221 applied
  double volume_mm3 = 0;  // e_mm · slicer filament area (M200's diameter where in force)
  double feed_mm_s = 25;  // F with M220 applied; for e_only the speed of E
  double nozzle_c =
      std::numeric_limits<double>::quiet_NaN();  // set temperature; NaN until one is set
  int tool = 0;
  MoveKind kind = MoveKind::travel;
  bool rapid = false;         // G0
  bool bare_retract = false;  // bare G10 or G11: no E word, length taken from M207 or assumed
  bool length_told = false;   // of a bare retract: by M207, and it lifts nothing
  bool rewritable = true;     // the only command on its line, every word read and understood
  bool feed_written = false;  // its line carries an F word (which stays in force afterwards)
  double feed_word = 0;       // the F in force in the file's own units per minute, before M220
  WriteMode write;
};

// A tool's bit in a mask that holds something for each tool.
[[nodiscard]] constexpr std::uint64_t tool_bit(int tool) { return std::uint64_t{1} << (tool & 63); }

// Position at path length `s_mm` from the start (0 … length_mm), program coordinates.
[[nodiscard]] Vec3 point_at(Move const& move, double s_mm);
// Unit direction of XYZ motion at path length `s_mm`; zero for e_only.
[[nodiscard]] Vec3 direction_at(Move const& move, double s_mm);

enum class HaltKind : std::uint8_t {
  stop,   // the head comes to rest, no time passes: M400, T, lines that are no G/M/T code
  dwell,  // G4: rests for a known time
  wait,   // M0 M1 M109 M190 M600 G28 G29: rests for an unknown time
};

// `tool_change` marks T (the run-on carries over); `macro` a line that is no G/M/T code.
struct Halt {
  std::int64_t line = 0;
  HaltKind kind = HaltKind::stop;
  double dwell_s = 0;
  bool tool_change = false;
  bool macro = false;
};

enum class SettingKind : std::uint8_t {
  max_acceleration,  // M201, mm/s² per axis
  max_speed,         // M203, mm/s per axis
  acceleration,      // M204: `all` from S or P; `travel` from T when P is present, `retract` from R
  corner_jump,       // M205, mm/s per axis
};

// A machine setting from the file that overrides the profile's from its line on. NaN: not given.
struct Setting {
  static constexpr double none = std::numeric_limits<double>::quiet_NaN();
  std::int64_t line = 0;
  SettingKind kind = SettingKind::acceleration;
  double x = none, y = none, z = none, e = none;
  double all = none, travel = none, retract = none;
};

// Receives what a program means, in the file's order.
class MeaningSink {
 public:
  virtual ~MeaningSink() = default;
  virtual void on_move(Move const& move) = 0;
  virtual void on_halt(Halt const&) {}
  virtual void on_setting(Setting const&) {}
};

}  // namespace meltlag::gcode
