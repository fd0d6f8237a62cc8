// SPDX-License-Identifier: MIT
// Whether the printer's own timing is that of [machine], by a stopwatch.
//
// Blocks of some hundred moves of one kind, each between two beeps: travels, the same as beads, the
// same as G1 without E, corners, stops of E alone between short moves, strokes of E alone. Each
// takes long where one limit rules it, so that a second of the stopwatch tells that limit: with
// T(f) the planned time when the limit is f times itself, f follows from T(f) = measured, and
// sd(ln f) = sd(T)/|dT/d ln f|. Moves from rest to rest take 2·√(s/a): mechanics.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/base/sheet.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::fit {

enum class TimingKind : std::uint8_t { beads, travels, travels_g1, corners, stops, strokes };
[[nodiscard]] std::string_view name_of(TimingKind kind);  // as in file and sheet

struct TimingOptions {
  double slicer_diameter_mm;
  motion::Limits limits;
  double x_mm = 60, y_mm = 60, z_mm = 20;  // where moves begin; they reach 50 mm in X and 25 in Y
  double nozzle_c = 0;                     // used by the plain start alone
  std::optional<std::string> start_code = {}, end_code = {};  // else the plain start and end
};

struct TimingBlock {
  int number = 0;  // from 1
  TimingKind kind = TimingKind::beads;
  std::string gcode = {};  // its moves alone, modes set
  double planned_s = 0;
};

struct TimingProgram {
  std::string gcode;
  std::vector<TimingBlock> blocks;
};

// Throws Error where the plain start lacks its temperature or the moves would leave the bed at 0.
[[nodiscard]] TimingProgram make_timing_program(TimingOptions const& options);
// CSV with the columns block,what,planned_s,took_s,note; the last two are empty.
[[nodiscard]] std::string timing_sheet(TimingProgram const& program);

// The blocks of a file that make_timing_program wrote, planned with these limits. Throws Error
// where it holds none.
[[nodiscard]] std::vector<TimingBlock> read_timing_blocks(std::string_view gcode,
                                                          std::string const& name,
                                                          TimingOptions const& options);

struct TimingReading {
  int block = 0;
  double took_s = 0;
};
// Rows without a time are passed over; seconds, or minutes and seconds as 1:07.3. Throws Error with
// file:line:column.
[[nodiscard]] std::vector<TimingReading> read_timing_sheet(Sheet const& sheet);

enum class TimingVerdict : std::uint8_t { holds, differs, unexplained };
struct TimingFinding {
  TimingKind kind = TimingKind::beads;
  double planned_s = 0, took_s = 0;
  TimingVerdict verdict = TimingVerdict::holds;
  std::string key = {};                       // of [machine], that it tells of
  std::optional<double> value = {}, sd = {};  // of that key where it differs
  std::string words = {};                     // one sentence
};

struct TimingJudgement {
  std::vector<TimingFinding> findings;  // in the order of the blocks
  motion::Limits limits;                // with what was found
};

inline constexpr double stopwatch_sd_s = 0.3;  // of a hand that presses twice (no source)

// Blocks without a reading are passed over. `limits` are those that the blocks were planned with.
[[nodiscard]] TimingJudgement judge_timing(std::vector<TimingBlock> const& blocks,
                                           std::vector<TimingReading> const& readings,
                                           TimingOptions const& options,
                                           double sd_s = stopwatch_sd_s);

}  // namespace meltlag::fit
