// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <string_view>

#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/judge/invariants.hpp"
#include "ring.hpp"

namespace meltlag::judge {

// A line of one of the files, and where on the path it stands.
struct PlacedLine {
  gcode::Block const& block;
  gcode::LineRole role;
  std::int64_t heads_done;  // moves of the head done before it; −1 in the middle of one
};

// Proves that text is kept. The original must be read at least as far along the path as the
// emitted file whenever one of the latter's lines is given.
class TextCheck {
 public:
  explicit TextCheck(Violations& violations) : violations_(violations) {}

  void original(PlacedLine const& line);
  void emitted(PlacedLine const& line);
  // Both files are at their end.
  void finish(std::string_view original_bom, std::string_view emitted_bom);
  // True when so much of the original waits for its like that more would not be looked at.
  [[nodiscard]] bool ample() const { return wanted_.size() >= look_ahead; }

 private:
  static constexpr std::size_t look_ahead = 200;
  // A line that must be found again, or the comment of a rewritten one.
  struct Item {
    std::size_t text = 0;  // hash of its bytes
    std::int64_t line = 0, heads_done = 0;
    bool rewritten = false;
    char line_break = 0;  // LF, CR, 'b' for both, 0 at the end of the file
  };
  // N words count up and checksums fit, up to the first line where they do not.
  struct Frames {
    bool any = false;
    bool free = true;  // the next N may be anything
    std::uint64_t last = 0;
    std::int64_t bad_line = 0;
    void read(gcode::Block const& block);
  };
  [[nodiscard]] std::size_t find(PlacedLine const& line, std::size_t comments);
  void take(std::size_t at, PlacedLine const& line);
  void marker(PlacedLine const& line);
  void lost(Item const& item);

  Violations& violations_;
  Ring<Item> wanted_;
  Frames original_frames_, emitted_frames_;
  std::int64_t markers_ = 0, marker_line_ = 0;
  bool percent_first_ = false;
};

}  // namespace meltlag::judge
