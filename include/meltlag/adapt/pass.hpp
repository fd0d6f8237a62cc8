// SPDX-License-Identifier: MIT
// One pass over a file: its text, rewritten so that it suits the extruder's lag. Streams in bounded
// memory. What comes out is not judged: adapt_file() (adapt_file.hpp) passes, judges, repairs and
// keeps the better.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/adapt/adapt_options.hpp"
#include "meltlag/base/diagnostic.hpp"
#include "meltlag/melt/supply.hpp"

namespace meltlag::adapt {

// How much of the file is rewritten.
enum class Rewrite : std::uint8_t {
  schedule,    // the screw is scheduled
  flow_alone,  // every E is divided by the delivered factor, nothing else
  nothing,     // only the comment line is added
};

struct PassOptions : AdaptOptions {
  Rewrite rewrite = Rewrite::schedule;
  double caution = 0;          // E's limits are kept away from by this share more
  double price_mm3_per_s = 0;  // a second of print time is spent where it saves so much misplaced
                               // plastic; 0: none is
  std::optional<double> most_print_mm_s = {};  // no bead is printed faster, as if sliced so
  int sample_every = 1;  // only one of so many windows is scheduled and counted: an estimate, and
                         // no text
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
AdaptInfo adapt_pass(std::string const& path,
                     PassOptions const& options,
                     TextSink const& out,
                     Notices& notices);

}  // namespace meltlag::adapt
