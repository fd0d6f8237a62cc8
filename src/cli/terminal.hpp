// SPDX-License-Identifier: MIT
// Sparing emphasis where a person looks on: never in a file or a pipe, never with NO_COLOR set.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace meltlag::cli {

enum class Stream : std::uint8_t { out, err };

// A terminal that understands escape sequences, and nobody has set NO_COLOR.
[[nodiscard]] bool takes_emphasis(Stream stream);
// The text in bold where the stream takes it.
[[nodiscard]] std::string bold(std::string_view text, Stream stream);
// The line that begins with `beginning` in bold.
[[nodiscard]] std::string with_bold_line(std::string text,
                                         std::string_view beginning,
                                         Stream stream);
// The row that matters most in a table of figures.
inline constexpr std::string_view main_row = "misplaced plastic";

}  // namespace meltlag::cli
