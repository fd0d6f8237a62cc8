// SPDX-License-Identifier: MIT
// Modal meaning: blocks → moves, halts, settings.
#pragma once

#include <memory>
#include <string>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/gcode/block.hpp"
#include "meltlag/gcode/move.hpp"

namespace meltlag::gcode {

struct InterpreterOptions {
  double slicer_diameter_mm;   // filament diameter that the slicer computes with; > 0
  bool g91_covers_e = true;    // G91 makes E relative too
  std::string file_name = {};  // for error places
};

// What a line turned out to be, for whoever rewrites it.
enum class LineRole : std::uint8_t {
  other,   // not motion: stays byte for byte
  motion,  // G0–G3, bare axis words, bare G10/G11: may be rewritten when it made a rewritable move
  marker,  // the comment line that says the file was adapted
};

class Interpreter {
 public:
  Interpreter(InterpreterOptions options, Notices& notices);
  ~Interpreter();
  Interpreter(Interpreter&&) noexcept;

  // Interprets one block and sends what it means to `sink`. A motion line sends at most one move; a
  // move without length and without E sends none (its F stays in force).
  // Throws Error (file:line:column) for an unreadable word or a coordinate beyond 1e6 mm in a
  // motion line.
  LineRole interpret(Block const& block, MeaningSink& sink);

  // The line that `adapt` puts into what it writes starts so: "; adapted by meltlag".
  static constexpr std::string_view marker_text = "; adapted by meltlag";

  // True when neither M82 nor M83 was seen before the first E word.
  [[nodiscard]] bool e_mode_never_stated() const;
  // E register in the file's own units as a printer would hold it now (absolute E).
  [[nodiscard]] double e_register_word() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace meltlag::gcode
