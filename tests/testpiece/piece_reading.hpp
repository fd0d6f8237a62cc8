// SPDX-License-Identifier: MIT
// The test piece read back as a printer would read it.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"
#include "meltlag/motion/planner.hpp"
#include "testpiece/piece_options.hpp"

namespace meltlag::testpiece {

struct Part {
  std::string label;  // last comment before the move
  motion::TimedMove timed;
};

class ReadBack : public motion::TimedSink, public gcode::MeaningSink {
 public:
  ReadBack(std::string const& gcode, PieceOptions const& options)
      : planner_({.limits = options.limits}, *this) {
    gcode::Interpreter interpreter({.slicer_diameter_mm = options.slicer_diameter_mm}, notices_);
    auto source = gcode::LineSource::from_text(gcode, "test");
    gcode::RawLine raw;
    gcode::Block block;
    std::string label;
    while (source.next(raw)) {
      if (raw.text.substr(0, 2) == "; ") label = raw.text.substr(2);
      labels_[raw.line] = label;
      gcode::read_block(raw.text, block);
      block.line = raw.line;
      interpreter.interpret(block, *this);
    }
    planner_.finish();
  }
  void on_move(gcode::Move const& move) override { planner_.push(move); }
  void on_halt(gcode::Halt const& halt) override { planner_.push(halt); }
  void on_setting(gcode::Setting const& setting) override { planner_.push(setting); }
  void on_timed_move(motion::TimedMove const& timed) override {
    by_line_[timed.move.line] = parts_.size();
    parts_.push_back({labels_[timed.move.line], timed});
  }
  void on_halt(gcode::Halt const&, double) override {}

  [[nodiscard]] std::vector<Part> const& parts() const { return parts_; }
  [[nodiscard]] Part const& at(std::int64_t line) const { return parts_[by_line_.at(line)]; }
  [[nodiscard]] double duration_s() const { return planner_.time_s(); }

 private:
  Notices notices_;
  motion::Planner planner_;
  std::map<std::int64_t, std::string> labels_;
  std::map<std::int64_t, std::size_t> by_line_;
  std::vector<Part> parts_;
};

inline bool starts_with(std::string const& text, std::string_view start) {
  return text.compare(0, start.size(), start) == 0;
}

inline bool in_layer(Part const& part, int layer) {
  std::string const end = fmt::format(", layer {}", layer);
  bool const of_fence = starts_with(part.label, "trace") || starts_with(part.label, "lead-in");
  return of_fence && part.label.size() > end.size() &&
         part.label.compare(part.label.size() - end.size(), end.size(), end) == 0;
}

inline std::vector<PieceOptions> builds() {
  std::vector<PieceOptions> all;
  for (double const turn_mm : {0.0, 2.0, 20.0, 100.0}) {
    for (double const width_mm : {0.6, 1.0, 1.6}) {
      PieceOptions options = bench_options();
      options.bead_width_mm = width_mm;
      options.layers = 6;
      if (turn_mm > 0) options.e_mm_per_turn = turn_mm;
      all.push_back(options);
    }
  }
  return all;
}

inline bool says(std::vector<std::string> const& remarks, std::string const& words) {
  return std::any_of(remarks.begin(), remarks.end(), [&](std::string const& remark) {
    return remark.find(words) != std::string::npos;
  });
}

}  // namespace meltlag::testpiece
