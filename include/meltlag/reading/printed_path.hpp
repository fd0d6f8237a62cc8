// SPDX-License-Identifier: MIT
// A printed file as one way of the head: every move with its timing, laid end to end.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::reading {

using PathOptions = motion::WalkOptions;

// A move and where it begins on the head's way. E-only moves have no way of their own.
struct PathMove {
  motion::TimedMove timed;
  double way_mm = 0;  // of its start, from the file's beginning
  // The smooth stretch that it belongs to: neighbours that go on in about its direction, without a
  // halt of the head's way (E-only moves and dwells do not end it).
  double straight_from_mm = 0, straight_to_mm = 0;

  [[nodiscard]] double length_mm() const;  // 0 for E-only moves
};

// A rest of the head between two moves.
struct PathRest {
  std::size_t before_move = 0;  // index of the move that follows
  bool unknown_length = false;  // the nozzle runs out, uncounted
  double dwell_s = 0;
};

// What a comment "; trace 4: large step, copy 2, layer 7" says of the lines after it. Each layer
// of the fence begins with its "; lead-in, layer 7", which has no trace.
struct TraceMark {
  std::int64_t line = 0;
  std::string trace, group;
  int copy = 0, layer = 0;
};

struct PrintedPath {
  std::string name;  // of the file, for messages
  std::vector<PathMove> moves;
  std::vector<PathRest> rests;
  std::vector<TraceMark> marks;
  std::map<std::int64_t, std::size_t> move_of_line;
  std::int64_t lines = 0;
  double filament_mm2 = 0;

  // The last mark at or before the line; null where there is none.
  [[nodiscard]] TraceMark const* mark_of(std::int64_t line) const;
  [[nodiscard]] double way_mm() const;  // of the whole file
};

// Reads and plans the whole file into memory. Throws Error as the reader does, and for files of
// more than two million moves: a test print has some thousands.
[[nodiscard]] PrintedPath read_path(gcode::LineSource source,
                                    PathOptions const& options,
                                    Notices& notices);

}  // namespace meltlag::reading
