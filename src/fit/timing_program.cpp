// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "meltlag/base/error.hpp"
#include "meltlag/fit/timing.hpp"
#include "meltlag/testpiece/program_frame.hpp"
#include "timing_plan.hpp"

namespace meltlag::fit {
namespace {

constexpr double hop_mm = 20, corner_mm = 1, step_mm = 1;
constexpr double fast_mm_min = 18000, corner_mm_min = 6000, step_mm_min = 2400;
constexpr double bead_e_mm = 0.002, stop_e_mm = 0.02, stroke_e_mm = 1;
constexpr int hops = 150, corners = 600, rows_of_steps = 8, steps_in_row = 50, strokes = 300;

constexpr std::array kinds{TimingKind::beads,
                           TimingKind::travels,
                           TimingKind::travels_g1,
                           TimingKind::corners,
                           TimingKind::stops,
                           TimingKind::strokes};

// To and fro along X.
std::string hops_of(TimingOptions const& o, char const* code, double e_mm) {
  std::string text;
  for (int i = 0; i < hops; ++i) {
    text += fmt::format("{} X{:.3f} F{:g}", code, o.x_mm + (i % 2 == 0 ? hop_mm : 0), fast_mm_min);
    text += e_mm > 0 ? fmt::format(" E{:.4f}\n", e_mm) : "\n";
  }
  return text;
}

// Stairs to and fro: a right angle after every millimetre.
std::string stairs(TimingOptions const& o) {
  constexpr int in_row = 50;
  std::string text;
  double x = o.x_mm, y = o.y_mm;
  for (int i = 0; i < corners; ++i) {
    double const way = (i / in_row) % 2 == 0 ? corner_mm : -corner_mm;
    (i % 2 == 0 ? x : y) += way;
    text += fmt::format("G1 X{:.3f} Y{:.3f} E{:.4f} F{:g}\n", x, y, 0.1 * bead_e_mm, corner_mm_min);
  }
  return text;
}

// Straight rows of short moves with a little stroke of E alone between them.
std::string stops(TimingOptions const& o) {
  std::string text;
  double x = o.x_mm;
  for (int row = 0; row < rows_of_steps; ++row) {
    for (int i = 0; i < steps_in_row; ++i) {
      x += row % 2 == 0 ? step_mm : -step_mm;
      text += fmt::format("G1 X{:.3f} F{:g}\nG1 E{:.3f} F600\n",
                          x,
                          step_mm_min,
                          i % 2 == 0 ? stop_e_mm : -stop_e_mm);
    }
  }
  return text;
}

std::string strokes_of(TimingOptions const& o) {
  std::string text;
  for (int i = 0; i < strokes; ++i)
    text += fmt::format("G1 E{:g} F{:.0f}\n",
                        i % 2 == 0 ? -stroke_e_mm : stroke_e_mm,
                        60 * o.limits.max_speed_mm_s[motion::axis_e]);
  return text;
}

std::string moves_of(TimingKind kind, TimingOptions const& o) {
  switch (kind) {
    case TimingKind::beads:
      return hops_of(o, "G1", bead_e_mm);
    case TimingKind::travels:
      return hops_of(o, "G0", 0);
    case TimingKind::travels_g1:
      return hops_of(o, "G1", 0);
    case TimingKind::corners:
      return stairs(o);
    case TimingKind::stops:
      return stops(o);
    case TimingKind::strokes:
      return strokes_of(o);
  }
  return {};
}

std::string head() {
  return "; Timing check: blocks of like moves, for a stopwatch. Nothing is printed.\n" +
         testpiece::feed_cautions() +
         "; How it goes\n"
         "; - Stand beside the machine. At each pause press the printer's button and start the\n"
         ";   stopwatch with the same hand; stop it at the beep, or when the head rests.\n"
         "; - Write the seconds beside the block's number in the sheet; what was missed stays "
         "empty.\n"
         "; - Leave the speed knob at 100 %.\n";
}

void check(TimingOptions const& o) {
  if (!o.start_code && !(o.nozzle_c > 0))
    throw Error("the plain start needs the nozzle's temperature",
                {},
                "give --nozzle-c, or your own --start and --end: E turns only when it is warm");
  if (o.x_mm < 0 || o.y_mm < 0 || !(o.z_mm >= 1))
    throw Error("the moves would leave the bed",
                {},
                "give a middle within it and a height of 1 mm or more");
}

}  // namespace

std::string_view name_of(TimingKind kind) {
  switch (kind) {
    case TimingKind::beads:
      return "moves that turn the screw";
    case TimingKind::travels:
      return "travels as G0";
    case TimingKind::travels_g1:
      return "travels as G1";
    case TimingKind::corners:
      return "corners";
    case TimingKind::stops:
      return "stops of E alone";
    case TimingKind::strokes:
      return "strokes of E alone";
  }
  return {};
}

TimingProgram make_timing_program(TimingOptions const& options) {
  check(options);
  TimingProgram program;
  std::string& text = program.gcode;
  text = head();
  text += options.start_code ? testpiece::whole_lines(*options.start_code)
                             : testpiece::plain_start(options.nozzle_c, 0);
  text += testpiece::common_modes();
  text += fmt::format("G0 Z{:g} F600\n", options.z_mm);
  for (TimingKind const kind : kinds) {
    TimingBlock block{.number = static_cast<int>(program.blocks.size()) + 1, .kind = kind};
    block.gcode = moves_of(kind, options);
    block.planned_s = planned_block_s(block.gcode, options);
    text += fmt::format("\nG0 X{:.3f} Y{:.3f} F6000\nM117 Block {}: press and start\nM0\n",
                        options.x_mm,
                        options.y_mm,
                        block.number);
    text += fmt::format("{}{}: {}\n", block_begins, block.number, name_of(kind));
    text += block.gcode + std::string{block_ends} + "\nM400\nM300 S1760 P300\n";
    program.blocks.push_back(std::move(block));
  }
  text += "\n" +
          (options.end_code ? testpiece::whole_lines(*options.end_code) : testpiece::plain_end());
  return program;
}

std::string timing_sheet(TimingProgram const& program) {
  std::string sheet = "block,what,planned_s,took_s,note\n";
  for (TimingBlock const& block : program.blocks)
    sheet += fmt::format("{},{},{:.1f},,\n", block.number, name_of(block.kind), block.planned_s);
  return sheet;
}

std::vector<TimingBlock> read_timing_blocks(std::string_view gcode,
                                            std::string const& name,
                                            TimingOptions const& options) {
  std::vector<TimingBlock> blocks;
  while (true) {
    std::size_t const at = gcode.find(block_begins);
    if (at == std::string_view::npos) break;
    gcode.remove_prefix(at + block_begins.size());
    std::size_t const line_end = std::min(gcode.find('\n'), gcode.size());
    std::string_view title = gcode.substr(0, line_end);
    if (title.ends_with('\r')) title.remove_suffix(1);
    std::size_t const end = gcode.find(block_ends);
    auto const kind =
        std::ranges::find_if(kinds, [&](TimingKind k) { return title.ends_with(name_of(k)); });
    if (end == std::string_view::npos || kind == kinds.end()) break;
    TimingBlock block{.number = static_cast<int>(blocks.size()) + 1, .kind = *kind};
    block.gcode = gcode.substr(line_end + 1, end - line_end - 1);
    block.planned_s = planned_block_s(block.gcode, options);
    blocks.push_back(std::move(block));
  }
  if (blocks.empty())
    throw Error("holds no blocks to time",
                {.file = name},
                "give the file that `meltlag calibrate timing` wrote");
  return blocks;
}

}  // namespace meltlag::fit
