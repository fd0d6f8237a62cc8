// SPDX-License-Identifier: MIT
// The main job: a sliced file in, a file that suits the extruder's lag out. Streams in bounded
// memory.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/adapt/side_by_side.hpp"
#include "meltlag/base/diagnostic.hpp"
#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/limits.hpp"
#include "meltlag/schedule/robust.hpp"

namespace meltlag::adapt {

// Absorbed stops make a layer take less time than before; or its beads are slowed to make up for
// it, so that it has the same time to cool.
enum class LayerTime : std::uint8_t { shorter, kept };

// What becomes of the file's moves of E alone between beads.
enum class StopPolicy : std::uint8_t {
  kept,      // they stay in place and take at most the time they took; their amounts are free
  absorbed,  // they go, and the head does not stop for them
};

// How much of the file is rewritten.
enum class Rewrite : std::uint8_t {
  schedule,    // the screw is scheduled
  flow_alone,  // every E is divided by the delivered factor, nothing else
  nothing,     // only the comment line is added
};

struct AdaptOptions {
  // Where its supply sets no max_flow_mm3_s, the greatest mean flow over one second that the beads
  // ask for stands in its place. Its burst_mm3 is what a schedule may rely on.
  melt::PlantParameters plant;
  motion::Limits limits;
  bool g91_covers_e = true;
  double shortest_cut_ms = 20;
  int buffer_moves = 16;
  std::optional<double> max_lines_per_s;
  std::optional<double> most_run_on_mm3;  // from the greatest pressure, where the parts are known
  double cold_below_c = 170;
  double caution = 0;      // E's limits are kept away from by this share more
  int window_cuts = 1500;  // decided at once; more cost memory and change next to nothing
  std::vector<LineRange> as_written = {};  // these lines keep their E, in ascending order
  Rewrite rewrite = Rewrite::schedule;
  std::vector<LineRange> flow_alone = {};  // these lines' E is divided by the factor and no more
  double price_mm3_per_s = 0;  // a second of print time is spent where it saves so much misplaced
                               // plastic; 0: none is
  schedule::LagSpread spread;  // the schedule suits this uncertainty on average; zeros: the plant
                               // as it is believed
  LayerTime layer_time = LayerTime::shorter;
  StopPolicy stops = StopPolicy::kept;
  std::optional<double> most_print_mm_s = {};  // no bead is printed faster, as if sliced so
  double min_speed_mm_s = 0;                   // no move is paced below it
  int sample_every = 1;  // only one of so many windows is scheduled and counted: an estimate, and
                         // no text
  std::string marker;    // the comment line that tells the file was adapted
};

// How long the screw is at a limit, so that the file asks for more than it can do.
struct LimitTimes {
  double scheduled_s = 0;     // of moves whose rate was free
  double flow_forward_s = 0;  // as much as may be fed forward, or E's greatest speed
  double reverse_s = 0;       // E's greatest speed backward
  double jump_s = 0;          // E's greatest change from one cut to the next
};

// How finely E is written: at least as finely as keeps rounding below 0.1 % of each bead's E.
struct EWords {
  static constexpr int many_decimals = 6;  // more of them not every printer reads
  int most_decimals = 0;                   // that rewritten beads ask for
  std::int64_t beads = 0, fine_beads = 0;  // rewritten; those that ask for more than many_decimals
  // How often absolute E is counted from 0 again (G92 E0), since single precision would lose
  // digits.
  std::int64_t counts_anew = 0;
};

struct AdaptInfo {
  std::int64_t lines_in = 0, lines_out = 0;
  std::int64_t moves = 0, absorbed = 0;
  std::int64_t changeable_moves = 0, cold_moves = 0;  // free to be scheduled; too cold for it
  bool lag_negligible = false;                        // too short to be corrected
  melt::SupplyLimits supply;                          // that were used
  bool max_flow_guessed = false;
  double unload_mm3 = 0;  // an E-only move back of more stays as written
  std::int64_t solver_rounds = 0, solver_steps = 0;
  std::int64_t windows = 0;  // that were scheduled
  EWords e_words;
  LimitTimes limits;
  double path_s = 0;                         // planned; waits of unknown length not counted
  double wanted_mm3 = 0, misplaced_mm3 = 0;  // as scheduled
};

// Receives the text in order.
using TextSink = std::function<void(std::string_view)>;

// Reads the file at `path` and sends the adapted text to `out`.
// Throws Error when the file cannot be read, is no G-code or was adapted already. Tells its
// progress.
AdaptInfo adapt(std::string const& path,
                AdaptOptions const& options,
                TextSink const& out,
                Notices& notices);

}  // namespace meltlag::adapt
