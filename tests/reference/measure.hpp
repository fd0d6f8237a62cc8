// SPDX-License-Identifier: MIT
// The slow truth for calibration: a hidden machine prints a file, and a person with calipers, ruler
// and scale measures the piece. The parts can be used apart: one motion serves many machines, one
// print can be measured many times.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "reference.hpp"

namespace meltlag_reference {

// ---- motion --------------------------------------------------------------------------------

/// The head's way: all moves of the head laid end to end.
struct HeadMotion {
  Program program;
  std::vector<Timed> timed;
  std::vector<double> way_mm;  ///< one for each move: where it starts on the way
  /// The straight that a move lies on, over neighbours that go on in its direction.
  std::vector<double> straight_from_mm, straight_to_mm;
  std::size_t find(std::size_t line) const;  ///< move of a line; throws when it has none
};

/// Reads and plans a file, E's own limits included as a printer does.
HeadMotion plan_motion(std::string_view gcode, const Machine& machine, double slicer_diameter_mm);

// ---- print ---------------------------------------------------------------------------------

/// dW/dt = u - Q(W) - leak W - dV/dt,  dV/dt = (c/(1-c) W - V) / creep_s,  W = (1-c) S (Q/Qref)^n
/// with u = what Screw delivers x (1 + pulse sin(2 pi E / turn + phase)) x (1 + wander(t)); without
/// max_flow the screw feeds whatever is asked for.
/// Richer than that law, each off at 0:
///   bent nozzle   with x = (W'/((1-c) S))^(1/n):  Q = Qref x exp(-bend tanh(ln(x) / 1.5))
///   friction      W' = W (1 + hysteresis/2 s), s follows W by dW / (0.05 S) and stays within +-1:
///                 W' is higher on the way up than on the way down
///   wander        a first-order process of sd wander_share, alike over wander_s
struct HiddenMachine {
  Plant plant;
  double pulse_share = 0;      ///< of the screw's output, once a turn
  double mm_per_turn = 0;      ///< E; > 0 where it pulses
  double pulse_phase_rad = 0;  ///< at E = 0, E counted over the whole file
  double creep_share = 0;      ///< c: of the steady run-on, stored slowly
  double creep_s = 0;
  double bend = 0;        ///< e^bend: what the flow departs by where it departs most
  double hysteresis = 0;  ///< width of the loop, a share of the run-on
  double wander_share = 0, wander_s = 3;
  std::uint64_t wander_seed = 1;
};

struct StepSizes {
  double longest_s = 5e-3;
  double steps_per_lag = 50;  ///< a step is not longer than the local lag through this
};

/// What left the nozzle until each place on the head's way; the volume jumps where the head stood.
struct Print {
  std::vector<double> way_mm, out_mm3;
  std::vector<std::size_t> starts;  ///< the record at each move's start, after all standstill
  double fed_mm3 = 0, leaked_mm3 = 0;
  double ran_out_mm3 = 0;  ///< in waits of unknown length; it is not part of the piece
  double left_mm3 = 0;     ///< stored at the end, fast and slow
  double until(double way_mm) const;
};

Print simulate_print(const HeadMotion& motion,
                     const HiddenMachine& machine,
                     const StepSizes& steps = {});

/// Misplaced plastic over wanted of a file printed on such a machine, on the cells of its original:
/// sum of |got - wanted| over sum of wanted, as judge_column() counts, without its screw.
double misplaced_share(const Case& files,
                       const Machine& machine,
                       Column column,
                       const HiddenMachine& hidden);

// ---- measuring -----------------------------------------------------------------------------

/// A row of the measurement sheet; `cells` are its texts as they came.
struct SheetRow {
  std::string trace, kind, note;
  double ruler_mm = 0;
  std::vector<std::size_t> lines;  ///< the move measured in each layer
  std::vector<double> at_mm;       ///< from each move's start; as many as lines
  std::vector<std::string> cells;
};

struct SheetFile {
  std::vector<std::string> columns;
  std::vector<SheetRow> rows;
};

/// Commas separate the columns, quotes are understood. Throws std::runtime_error where it cannot.
SheetFile read_sheet(std::string_view csv);
/// The same with these values; a row without one stays empty.
std::string write_sheet(const SheetFile& sheet, const std::vector<std::optional<double>>& values);

/// How the person measures. Steps of 0 leave readings unrounded.
struct Measuring {
  double width_noise_mm = 0.05;
  double place_error_mm = 1;  ///< common to all layers of a reading
  double jaw_mm = 4;
  double height_mm = 0.3;
  double height_error_mm = 0.03;  ///< common to a trace
  double mass_noise_g = 0.01;
  double outliers = 0;  ///< share of width readings that are off by 0.3 to 0.6 mm
  double density_g_cm3 = 1.24;
  double width_step_mm = 0.01, place_step_mm = 0.5, mass_step_g = 0.01;
  std::uint64_t seed = 1;
};

/// One value for each row, none for kinds unknown:
///  width           mean over the layers of section/h + (1 - pi/4) h (0 where nothing lies),
///  section
///                  averaged over the jaw about the place where the calipers truly stand; the jaw
///                  ends where the straight ends
///  place_at_width  ruler_mm plus or minus the way from the row's place to where the width is first
///                  down to the first number of the note
///  tail            way from the row's place until the bead is narrower than half of what it was in
///                  the jaw's length before it; to the end of the straight where it never is
///  gap             way from the row's place until the bead is wider than half of what the file
///  asks
///                  for there
///  mass            of the lines, or of all from the first comment that begins with "trace " or
///                  "lead-in," (without one: from the first printing move) to the end
///  height          layers (the row's lines, else all) times the layer height of the trace, or the
///  mean of
///                  all traces
/// A row's errors depend on the seed, its number and its trace alone.
std::vector<std::optional<double>> measure_sheet(const HeadMotion& motion,
                                                 const Print& print,
                                                 const std::vector<SheetRow>& rows,
                                                 const Measuring& how);

/// All in one.
std::vector<std::optional<double>> measure_sheet(std::string_view gcode,
                                                 const std::vector<SheetRow>& rows,
                                                 const HiddenMachine& hidden,
                                                 const Machine& machine,
                                                 const Measuring& how);

/// Numbers from a seed: splitmix64, normal ones after Box and Muller.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : state_(seed) {}
  std::uint64_t bits();
  double uniform();  ///< in (0, 1)
  double normal();   ///< mean 0, deviation 1

 private:
  std::uint64_t state_;
};

}  // namespace meltlag_reference
