// SPDX-License-Identifier: MIT
// G, M and T codes other than moves. `words` are those that belong to the command.
#pragma once

#include "modal.hpp"

namespace meltlag::gcode {

// G17–G21, G90, G91 and codes without effect here: they only change how other words are read.
// Returns false when `code` is none of them.
bool apply_modal_g(Line const& line, Code code);
[[nodiscard]] bool is_modal_g(Code code);

// All G codes that act except moves and bare G10, G11.
void execute_g(Line const& line, Word const& command, Words words);
void execute_m(Line const& line, Word const& command, Words words);
void execute_t(Line const& line, Word const& command);

// M codes followed by free text or a file name, in which no further command may be looked for.
[[nodiscard]] bool takes_text(Code m_code);

// A line that is no G, M or T code: the head comes to rest.
void pass_macro(Line const& line);

}  // namespace meltlag::gcode
