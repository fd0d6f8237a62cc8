// SPDX-License-Identifier: MIT
// Runs a program text through source, grammar and interpreter and keeps all that it means.
#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/gcode/blocks.hpp"
#include "meltlag/gcode/interpreter.hpp"

namespace meltlag::gcode {

struct Program : MeaningSink {
  std::vector<Move> moves;
  std::vector<Halt> halts;
  std::vector<Setting> settings;
  std::vector<LineRole> roles;  // by line
  std::vector<Notice> notices;
  bool e_mode_never_stated = false;
  double e_register_word = 0;

  void on_move(Move const& move) override { moves.push_back(move); }
  void on_halt(Halt const& halt) override { halts.push_back(halt); }
  void on_setting(Setting const& setting) override { settings.push_back(setting); }

  // How often a notice whose text holds `piece` was noted.
  [[nodiscard]] std::int64_t noted(std::string_view piece) const {
    std::int64_t count = 0;
    for (Notice const& notice : notices) {
      if (notice.text.find(piece) != std::string::npos) count += notice.count;
    }
    return count;
  }
};

inline Program run(std::string_view text,
                   InterpreterOptions const& options = {.slicer_diameter_mm = 1.75,
                                                        .file_name = "feet.gcode"}) {
  Program program;
  Notices notices;
  Interpreter interpreter(options, notices);
  LineSource source = LineSource::from_text(text, options.file_name);
  for_each_block(source, [&](Block const& block) {
    program.roles.push_back(interpreter.interpret(block, program));
  });
  program.notices = notices.list();
  program.e_mode_never_stated = interpreter.e_mode_never_stated();
  program.e_register_word = interpreter.e_register_word();
  return program;
}

}  // namespace meltlag::gcode
