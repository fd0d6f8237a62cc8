// SPDX-License-Identifier: MIT
// A program read and interpreted line by line: source → blocks → what they mean.
#pragma once

#include <cstdint>
#include <string>
#include <utility>

#include "meltlag/gcode/blocks.hpp"
#include "meltlag/gcode/interpreter.hpp"

namespace meltlag::gcode {

struct ReadOptions {
  double slicer_diameter_mm;
  bool g91_covers_e = true;
};

class ProgramReader {
 public:
  ProgramReader(LineSource source, ReadOptions const& options, Notices& notices)
      : source_(std::move(source)),
        interpreter_({options.slicer_diameter_mm, options.g91_covers_e, source_.name()}, notices) {}
  ProgramReader(std::string const& path, ReadOptions const& options, Notices& notices)
      : ProgramReader(LineSource(path), options, notices) {}

  // Reads the next line; false at the end. Throws as LineSource::next() does.
  [[nodiscard]] bool next() { return read_next_block(source_, block_); }
  // What the line means goes to `sink`, once.
  LineRole interpret(MeaningSink& sink) { return interpreter_.interpret(block_, sink); }
  // All lines that are left. Returns the last one's number.
  std::int64_t read_all(MeaningSink& sink) {
    while (next()) interpret(sink);
    return block_.line;
  }

  [[nodiscard]] Block const& block() const { return block_; }
  [[nodiscard]] LineSource const& source() const { return source_; }
  [[nodiscard]] Interpreter const& interpreter() const { return interpreter_; }

 private:
  LineSource source_;
  Interpreter interpreter_;
  Block block_;
};

}  // namespace meltlag::gcode
