// SPDX-License-Identifier: MIT
#include "output.hpp"

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <cerrno>
#include <cstdio>
#include <system_error>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "progress.hpp"

namespace meltlag::cli {
namespace {

[[noreturn]] void fail_to_print(int error) {
  if (error == EPIPE) throw StdoutClosed{};
  throw Error("cannot write: " + std::generic_category().message(error),
              {.file = "standard output"},
              "Is the disk full, or the place not writable?");
}

}  // namespace

void print(std::string_view text) {
  if (system::stdout_is_terminal()) clear_progress();
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size()) fail_to_print(errno);
}

void flush_stdout() {
  if (std::fflush(stdout) != 0) fail_to_print(errno);
}

void log(std::string_view line) { spdlog::info("{}", line); }

void set_up_streams() {
  system::set_up_process();
  spdlog::set_default_logger(spdlog::stderr_logger_mt("meltlag"));
  spdlog::set_pattern("meltlag: %v");
}

}  // namespace meltlag::cli
