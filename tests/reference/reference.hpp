// SPDX-License-Identifier: MIT
// The slow reference: an independent reader, planner, integrator and judge of G-code. It shares
// nothing with the product; wherever both could be clever, this one is obvious.
#pragma once

#include <array>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace meltlag_reference {

/// Indices into every array over axes.
enum AxisIndex : std::size_t { axis_x = 0, axis_y = 1, axis_z = 2, axis_e = 3 };

using Point = std::array<double, 3>;    ///< x, y, z in mm (or a unit vector)
using PerAxis = std::array<double, 4>;  ///< x, y, z, e

// ---- text ----------------------------------------------------------------------------------

/// One letter with its number; `X` alone has no value.
struct Word {
  char letter = ' ';  ///< upper case
  double value = 0;
  bool has_value = false;
};

/// One command of a line. The first word is the code, unless the line holds bare axis words.
struct Command {
  std::vector<Word> words;
  bool bare = false;  ///< axis words only: the modal motion is meant
  bool junk = false;  ///< something in it could not be read
  int code() const;   ///< 10 x the number, so that G92.1 is 921; -1 when bare
  char letter() const { return bare ? 'G' : words.front().letter; }
  std::optional<double> get(char letter) const;
  bool has(char letter) const;
};

enum class LineKind { empty, code, macro };

/// One line of the file.
struct Line {
  std::size_t number = 0;            ///< counted from 1
  std::string raw;                   ///< without the line feed (a carriage return stays)
  std::string body;                  ///< raw without N, checksum and byte-order mark
  std::string comment;               ///< text of its comments
  std::optional<long> frame_number;  ///< N
  LineKind kind = LineKind::empty;
  bool motion = false;  ///< holds G0-G3, bare axis words or bare G10/G11 and nothing else
  bool checksum_bad = false;
  std::vector<Command> commands;
};

std::vector<Line> split_lines(std::string_view text);

// ---- machine and moves ---------------------------------------------------------------------

enum class CornerRule { jump, rounding };
enum class EMode { g91_covers_e, g91_leaves_e };
/// Which moves the travel acceleration holds for.
enum class TravelRule { moves_without_e, all_travels };

/// What M201, M203, M204 and M205 set.
struct Limits {
  double acceleration_mm_s2 = 800;
  double travel_acceleration_mm_s2 = 800;
  /// Of moves of E alone, beside E's own: the lesser holds (M204 R).
  double retract_acceleration_mm_s2 = std::numeric_limits<double>::infinity();
  PerAxis jump_mm_s{10, 10, 0.4, 5};
  PerAxis max_speed_mm_s{300, 300, 20, 60};
  PerAxis max_acceleration_mm_s2{9000, 9000, 500, 5000};
};

struct Machine {
  Limits limits;
  CornerRule rule = CornerRule::jump;
  double rounding_mm = 0.05;
  EMode e_mode = EMode::g91_covers_e;
  double retract_mm = 1.0;  ///< bare G10/G11, until M207 S is seen
  double retract_speed_mm_s = 25.0;
  TravelRule travel_rule = TravelRule::moves_without_e;
  bool stops_halt = false;  ///< the head stands at each line of E alone, look-ahead ends there
  double cold_below_c = 170;
};

/// The feeder, the lag law W = S (Q/Qref)^n and what the screw can do.
struct Plant {
  double slicer_diameter_mm = 1.75;
  double delivered_factor = 1.0;
  double reverse_factor = 1.0;
  double backlash_mm = 0.0;
  double run_on_mm3 = 1.5;
  double at_flow_mm3_s = 5.0;
  double flow_index = 1.0;
  double leak_per_s = 0.0;
  std::optional<double> at_c;
  std::optional<double> activation_kj_mol;
  std::optional<double> max_flow_mm3_s;   ///< q, for long; unset: steady_flow() of the file
  double burst_mm3 = 0;                   ///< b, the store
  std::optional<double> max_burst_mm3_s;  ///< unset: none
  double area_mm2() const;
};

/// Fills in what a profile says of them: [feed], [lag], [machine], [limits] and the activation
/// energy. Throws std::runtime_error for one with `base` or without a measured lag.
void read_profile(std::string_view toml, Plant& plant, Machine& machine);

enum class MoveKind { print, travel, unprint, e_only };

struct Arc {
  double centre_x_mm = 0, centre_y_mm = 0;
  double start_radius_mm = 0, end_radius_mm = 0;
  double start_angle = 0;  ///< rad
  double sweep = 0;        ///< rad, positive anticlockwise
};

struct Move {
  std::size_t line = 0;
  MoveKind kind = MoveKind::travel;
  Point start_mm{}, end_mm{};
  std::optional<Arc> arc;
  double length_mm = 0;   ///< of the head's path; 0 for e_only
  double e_mm = 0;        ///< signed, M221 and M200 applied
  double volume_mm3 = 0;  ///< asked for by the file, before any delivered factor
  double feed_mm_s = 0;   ///< M220 applied
  Limits limits;
  std::optional<double> set_c;
  bool drop_e_limits = false;  ///< plan it as if it had no E
  bool travels = false;        ///< driven at the travel acceleration
  bool unset_amount = false;   ///< bare G10 or G11 before any M207
  Point at(double fraction) const;
};

enum class Turn { clockwise, anticlockwise };

/// Nothing when the command gives no centre that a turn could go about.
std::optional<Arc> make_arc(const Command& command, Turn turn, double unit_mm, const Move& move);

enum class HaltKind { stop, dwell, wait };

struct Halt {
  std::size_t line = 0;
  std::size_t before_move = 0;  ///< number of moves in front of it
  HaltKind kind = HaltKind::stop;
  double seconds = 0;
  std::optional<double> set_c;
  bool tool_change = false;
};

struct Program {
  std::vector<Line> lines;
  std::vector<Move> moves;
  std::vector<Halt> halts;
  std::vector<std::string> notices;
};

/// Throws std::runtime_error with the line for an unreadable motion line.
Program read_program(std::string_view text, const Machine& machine, const Plant& plant);

// ---- planner -------------------------------------------------------------------------------

enum class PlanMode { full, path_only };

/// A trapezoid. For an e_only move the path is |E|.
struct Timed {
  double length_mm = 0;
  double v_in_mm_s = 0, v_peak_mm_s = 0, v_out_mm_s = 0;
  double a_mm_s2 = 0;
  double accelerate_s = 0, cruise_s = 0, brake_s = 0;
  double duration_s() const { return accelerate_s + cruise_s + brake_s; }
};

/// One entry a move; a move that the mode leaves out has zero length and time.
std::vector<Timed> plan(const Program& program, const Machine& machine, PlanMode mode);
double total_time_s(const std::vector<Timed>& timed, const Program& program);

// ---- screw ---------------------------------------------------------------------------------

/// What the screw delivers over a while: mm3_s at first, changing by mm3_s2.
struct Feed {
  double seconds = 0, mm3_s = 0, mm3_s2 = 0;
};

/// What the turned screw delivers. With x = f c (c >= 0) or f rho c (c < 0), c the E volume per
/// second once backlash is taken up:
///   x < 0            u = x                                     dD/dt = -x   dB/dt = q
///   x >= 0, D > 0    u = x                                     dD/dt = -x   dB/dt = q
///   x >= 0, D = 0    y = min(x, max_burst)
///                    u = y where y <= q or B > 0, else q                    dB/dt = q - u
/// D >= 0 was wound back and not given again, 0 <= B <= b is the store. Starved: x - u.
class Screw {
 public:
  explicit Screw(const Plant& plant);
  /// One stretch of constant acceleration; E follows the path at e_per_mm. The pieces add up to
  /// `seconds` and are cut where D or B reaches a bound and where x passes q or max_burst.
  std::vector<Feed> turn(double v0_mm_s, double a_mm_s2, double seconds, double e_per_mm);
  void wait();  ///< of unknown length: the store is full again, D stays
  double wound_back_mm3() const { return wound_back_; }
  double store_mm3() const { return store_; }
  double starved_mm3() const { return starved_; }

 private:
  double slack_mm(double e_per_mm) const;
  double take_up(double v0, double a, double seconds, double e_per_mm);
  void deliver(double x, double slope, double seconds);
  void give_again(double& x, double slope, double& seconds);
  void forward(double x, double slope, double seconds);
  void burst(double x, double slope, double y, double y_slope, double seconds);
  void add(double u, double slope, double seconds);
  void refill(double volume_mm3);

  Plant plant_;
  double q_ = 0, most_ = 0;  // mm3/s
  double slack_ = 0;         // backlash already taken up in the forward direction
  double wound_back_ = 0, store_ = 0, starved_ = 0;
  std::vector<Feed> out_;
};

// ---- integrator ----------------------------------------------------------------------------

/// W over time, in small steps. Reports what leaves the nozzle.
class Barrel {
 public:
  explicit Barrel(const Plant& plant);
  void set_temperature(std::optional<double> set_c);
  /// One stretch of constant acceleration; E follows the path at e_per_mm. Returns mm3 out.
  double advance(double v0_mm_s, double a_mm_s2, double seconds, double e_per_mm);
  /// A wait of unknown length. Returns mm3 that ran out.
  double run_out();
  double run_on_mm3() const { return run_on_; }
  double largest_run_on_mm3() const { return largest_; }
  double leaked_mm3() const { return leaked_; }
  const Screw& screw() const { return screw_; }

 private:
  double flow(double run_on) const;
  double integrate(double u0, double slope, double seconds);

  Plant plant_;
  Screw screw_;
  double scale_ = 1;  // of S, by temperature
  double inverse_index_ = 1;
  double run_on_ = 0;
  double largest_ = 0;
  double leaked_ = 0;
};

// ---- judge ---------------------------------------------------------------------------------

struct Cell {
  std::size_t move = 0;  ///< of the original
  bool prints = false;
  bool starts_run = false;  ///< a halt, an E-only move or a travel lies in front of it
  double length_mm = 0;
  double wanted_mm3 = 0;
  double got_mm3 = 0;
};

inline constexpr std::size_t no_move = static_cast<std::size_t>(-1);

/// Where an emitted move lies on the original: head moves as a piece [from, to] of original move
/// `move`; E-only moves at place `from` of the head move that follows.
struct Piece {
  std::size_t move = 0;
  double from = 0, to = 1;
  bool purge = false;
  bool kept = false;                 ///< does exactly what the original did there
  bool right = false;                ///< does what the original with its flow set right does there
  double off_mm = 0;                 ///< worst distance from the original path
  std::size_t screw_line = no_move;  ///< e_only: the original move of the same E, if any
};

struct Mapping {
  std::vector<Piece> pieces;         ///< one for each emitted move
  std::vector<bool> original_purge;  ///< one for each original move
  std::vector<std::string> faults;   ///< where the paths differ, in words
};

/// Purge or not, for each move of an original (positive E-only moves beyond the debt).
std::vector<bool> find_purges(const Program& original, const Plant& plant);
Mapping map_moves(const Program& original,
                  const Program& emitted,
                  const Plant& plant,
                  double path_mm = 0.005);

// ---- flow set right ------------------------------------------------------------------------

/// E that stays as written, for each move of an original (mm): all of a purge, of a kept unload
/// (the last retract before a wait, a tool change or the end, one whose recovery is purge, one of
/// more than three times the largest run-on) and of bare G10 and G11 before any M207; of a
/// recovery what gives such an unload again; of all others 0.
std::vector<double> find_kept_e(const Program& original,
                                const Plant& plant,
                                double largest_run_on_mm3);
/// Every other E divided by the delivered factor.
Program set_flow_right(const Program& original,
                       const std::vector<double>& kept_e_mm,
                       double delivered_factor);
/// Greatest mean over one second of what the beads ask for (mm3/s), in planned time.
double steady_flow(const Program& original, const std::vector<Timed>& timed);

// ---- figures -------------------------------------------------------------------------------

struct Verdict {
  double misplaced_percent = 0;
  double bead_error_percent = 0;
  double wanted_mm3 = 0;
  double got_on_path_mm3 = 0;
  double uncounted_mm3 = 0;  ///< purge, waits, after the last cell
  std::size_t cells = 0;
  std::size_t blobs = 0;
  double blob_mean_mm3 = 0, blob_largest_mm3 = 0, blob_largest_ball_mm = 0;
  std::size_t starts = 0, gaps = 0;
  double gap_mean_mm = 0, gap_largest_mm = 0;
  double planned_s = 0;    ///< of the emitted file, dwells in
  double path_only_s = 0;  ///< of the emitted file without E
  double original_planned_s = 0;
  double original_path_only_s = 0;
  std::size_t moves = 0;
  double peak_flow_mm3_s = 0;
  double peak_e_speed_mm_s = 0;
  double largest_e_jump_mm_s = 0;
  double largest_e_acceleration_mm_s2 = 0;
  double run_on_max_mm3 = 0;
  double run_on_end_mm3 = 0;
  /// A travel is the head's way from the end of one bead to the start of the next.
  double strings_mm3 = 0;         ///< what leaves on travels over 2 mm
  double longest_string_mm = 0;   ///< longest of them on which at least 0.01 mm3 leaves
  double largest_string_mm3 = 0;  ///< the most that leaves on one of them
  double all_travels_mm3 = 0;     ///< what leaves on travels of any length
  std::size_t stops = 0;          ///< places with lines of E alone
  std::size_t stop_lines = 0;     ///< most such lines at one place
  double stops_s = 0;             ///< planned time of all of them
  double starved_mm3 = 0;         ///< asked for and not fed, but for the next row
  double starved_kept_mm3 = 0;    ///< on purge and kept lines of E alone
  std::size_t starved_line = 0;   ///< first line that starves; 0 for none
  double max_flow_mm3_s = 0;      ///< q, as given or found
  double wound_back_end_mm3 = 0;
  std::vector<Cell> cell_table;
};

/// The files of one judgement, read; `plant` knows its q.
struct Case {
  Program original, right, emitted;
  std::vector<double> kept_e_mm;  ///< of the original's moves
  Mapping mapping;                ///< of the emitted moves
  Plant plant;
};

/// Throws std::runtime_error for files that cannot be read.
Case make_case(std::string_view original,
               std::string_view emitted,
               const Plant& plant,
               const Machine& machine,
               double path_mm = 0.005);

enum class Column { as_sliced, flow_set_right, adapted };

/// Throws std::runtime_error where the emitted path is not the original's.
Verdict judge_column(const Case& files, const Machine& machine, Column column);

/// From v.cell_table and the plan to the other figures.
void fill_figures(const Program& program,
                  const std::vector<Timed>& timed,
                  const Plant& plant,
                  Verdict& v);

/// Judges an emitted file on the cells of its original (the same text twice: as sliced).
/// Throws std::runtime_error when the emitted path is not the original's.
Verdict judge(std::string_view original,
              std::string_view emitted,
              const Plant& plant,
              const Machine& machine);

// ---- invariants ----------------------------------------------------------------------------

struct InvariantOptions {
  double path_mm = 0.005;
  double extra_time = 0;  ///< share of the time as sliced, granted by the user
};

/// The files' text: other lines, their order and place, comments, marker, numbers, checksums.
std::vector<std::string> check_text(const Program& original,
                                    const Program& emitted,
                                    const Mapping& mapping);

/// What the screw does: limits at the planned speeds, cold stretches, planned time.
std::vector<std::string> check_screw(const Case& files,
                                     const Machine& machine,
                                     const InvariantOptions& options);

/// No more misplaced than with the flow set right. Empty where the paths differ.
std::vector<std::string> check_plastic(const Case& files, const Machine& machine);

/// Violations in words, with lines of the emitted file. Empty: all is well.
std::vector<std::string> check_invariants(std::string_view original,
                                          std::string_view emitted,
                                          const Plant& plant,
                                          const Machine& machine,
                                          const InvariantOptions& options = {});

}  // namespace meltlag_reference
