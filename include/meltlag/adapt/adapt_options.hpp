// SPDX-License-Identifier: MIT
// What can be asked of adapting a file.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

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

struct LineRange {
  std::int64_t first, last;  // 1-based, both included
};

struct AdaptOptions {
  // Where its supply sets no max_flow_mm3_s, the greatest mean flow over one second that the beads
  // ask for stands in its place.
  melt::PlantParameters plant;
  motion::Limits limits;
  // Of the plant's store (supply.burst_mm3), what a schedule may rely on; unset: all of it.
  std::optional<double> sure_burst_mm3;
  bool g91_covers_e = true;
  double shortest_cut_ms = 20;
  int buffer_moves = 16;
  std::optional<double> max_lines_per_s;
  std::optional<double> most_run_on_mm3;  // melt::greatest_run_on_mm3(), where the parts are known
  double cold_below_c = 170;
  double min_speed_mm_s = 0;  // no move is paced below it
  int window_cuts = 1500;     // decided at once; more cost memory and change next to nothing
  unsigned threads = 0;       // at most; 0: as many as there are processors. No byte depends on it
  // The schedule suits this uncertainty on average; zeros: the plant as it is believed.
  schedule::LagSpread spread;
  LayerTime layer_time = LayerTime::shorter;
  StopPolicy stops = StopPolicy::kept;
  // These lines' E is divided by the delivered factor and no more, in ascending order.
  std::vector<LineRange> flow_alone;
  std::string marker;  // the comment line that tells the file was adapted
};

}  // namespace meltlag::adapt
