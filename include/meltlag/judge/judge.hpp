// SPDX-License-Identifier: MIT
// Judging files: where the plastic goes that a file asks for.
//
// The path of the original is cut into cells: a printing move of length L into round(L / 0.5 mm)
// equal ones, at least one; every other move of the head is one cell. Then
//   misplaced share = Σ |got − wanted| / Σ wanted          bead error = rms(got/wanted − 1)
// with got what leaves the nozzle while the head is in a cell. What leaves at standstill belongs to
// the next cell if it prints, else to the last if it printed, else to the next. What leaves during
// a purge, runs out in a wait of unknown length, or is left at the end counts nowhere.
//
// Three columns: as sliced; with its flow set right (as sliced, every E but purge and long unloads
// divided by the delivered factor: what the slicer's own flow setting gives); as emitted.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/gcode/move.hpp"
#include "meltlag/judge/print_metrics.hpp"
#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::judge {

// Whether judge_files() also proves what every emitted file must keep (invariants.hpp).
enum class Prove : std::uint8_t { figures_only, invariants };

// What may have become of F: no speed is ever raised.
enum class Speeds : std::uint8_t { as_written, lowered };

struct JudgeOptions {
  // Where its supply sets no max_flow_mm3_s, the greatest mean flow over one second that the beads
  // ask for stands in its place.
  melt::PlantParameters plant;
  motion::Limits limits;
  bool g91_covers_e = true;
  double cold_below_c = 170;  // nothing may be added below
  double extra_time = 0;      // share of the planned time that was granted
  Speeds speeds = Speeds::as_written;
  Prove prove = Prove::invariants;
  // As unload_mm3() of survey.hpp says; found out where it is not given.
  std::optional<double> unload_mm3 = {};
  unsigned threads = 0;  // at most; 0: as many as there are processors
};

// What became of one move of the original: a move of the head, or one of E alone.
struct MoveRow {
  std::int64_t line = 0;  // of the original
  gcode::MoveKind kind = gcode::MoveKind::travel;
  Vec3 end_mm;  // program coordinates
  double length_mm = 0;
  double start_s = 0, duration_s = 0;              // as written
  double start_after_s = 0, duration_after_s = 0;  // as emitted
  double e_before_mm = 0, e_after_mm = 0;
  double e_reverse_after_mm = 0;  // the part of e_after_mm that turns backward, ≤ 0
  double e_added_mm = 0;          // E-only moves added in front of it
  double first_rate_after = 0, last_rate_after = 0;  // E mm per mm at its beginning and end
  double commanded_before_mm3 = 0, commanded_after_mm3 = 0;
  double wanted_mm3 = 0, got_before_mm3 = 0, got_after_mm3 = 0;
  double run_on_before_mm3 = 0, run_on_after_mm3 = 0;          // at its end
  std::int64_t emitted_first_line = 0, emitted_last_line = 0;  // 0: absorbed
  std::int64_t pieces = 0;                                     // emitted moves it became
  bool kept = false;                                           // as written
  bool purge = false;
};

// Receives rows in the original's order.
class RowSink {
 public:
  virtual ~RowSink() = default;
  virtual void on_row(MoveRow const& row) = 0;
};

class CellSink;  // cell.hpp

// Where the emitted head leaves the original path: the rest of the emitted file is not judged.
struct Parting {
  std::int64_t original_line = 0, emitted_line = 0;  // 0: that file has ended
  Vec3 original_end_mm, emitted_end_mm;              // machine coordinates
  double off_mm = 0;                                 // distance from the path
  std::string text;
};

inline constexpr double string_least_mm3 = 0.01;

struct Judgement {
  PrintMetrics before, after;  // `after` holds up to the parting only
  PrintMetrics flow_set_right;
  melt::SupplyLimits supply;  // that all three were judged with
  std::optional<Parting> parting;
  std::vector<std::string> violations;  // the first of them, in words, with line numbers
  std::int64_t violation_count = 0;
  std::vector<std::int64_t> violation_lines;  // of the original, those that lie in one
};

// Judges an emitted file on the path of its original, both as streams in bounded memory. `rows` and
// `cells` may be null. Notices are those of the original. Throws Error for what cannot be read.
[[nodiscard]] Judgement judge_files(std::string const& original_path,
                                    std::string const& emitted_path,
                                    JudgeOptions const& options,
                                    Notices& notices,
                                    RowSink* rows,
                                    CellSink* cells = nullptr);

// The same for one file as it is; in its rows "after" repeats "before", and so does the Judgement.
[[nodiscard]] Judgement predict(std::string const& path,
                                JudgeOptions const& options,
                                Notices& notices,
                                RowSink* rows,
                                CellSink* cells = nullptr);

}  // namespace meltlag::judge
