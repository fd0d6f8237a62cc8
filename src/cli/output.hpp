// SPDX-License-Identifier: MIT
// Results go to stdout through print(), progress and log to stderr through spdlog.
#pragma once

#include <string_view>

namespace meltlag::cli {

// Exit status of the whole program.
inline constexpr int exit_done = 0;
inline constexpr int exit_bad_input = 1;   // the input or the data is at fault
inline constexpr int exit_differs = 1;     // `diff` only: the files differ
inline constexpr int exit_bad_usage = 2;   // wrong options
inline constexpr int exit_no_verdict = 2;  // `diff` only: trouble

// The reader of stdout has gone away, as `head` does: no fault, but nobody wants the rest.
struct StdoutClosed {};

// Writes to stdout. Throws StdoutClosed, or Error where the text cannot be written.
void print(std::string_view text);
// Writes what is still held back; throws like print(). Call once when all is printed.
void flush_stdout();

// A line of the log.
void log(std::string_view line);

// The log writes "meltlag: text" lines to stderr; a closed pipe no longer ends the program.
void set_up_streams();

}  // namespace meltlag::cli
