// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "meltlag/adapt/figure.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"

namespace meltlag::adapt {

// A file read and interpreted line by line.
class ProgramReader {
 public:
  ProgramReader(std::string const& path, FigureOptions const& options, Notices& notices);

  // Reads the next line; false at the end.
  [[nodiscard]] bool next();
  // What the line means goes to `sink`.
  gcode::LineRole interpret(gcode::MeaningSink& sink) {
    return interpreter_.interpret(block_, sink);
  }
  [[nodiscard]] gcode::Block const& block() const { return block_; }
  [[nodiscard]] std::string_view bom() const { return source_.bom(); }

 private:
  gcode::LineSource source_;
  gcode::Interpreter interpreter_;
  gcode::Block block_;
};

}  // namespace meltlag::adapt
