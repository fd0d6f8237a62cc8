// SPDX-License-Identifier: MIT
#include "output.hpp"

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <cerrno>
#include <cstdio>
#include <system_error>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"

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
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size()) fail_to_print(errno);
}

void flush_stdout() {
  if (std::fflush(stdout) != 0) fail_to_print(errno);
}

void set_up_streams() {
  system::set_up_process();
  spdlog::set_default_logger(spdlog::stderr_logger_mt("meltlag"));
  spdlog::set_pattern("meltlag: %v");
}

bool stderr_is_terminal() { return system::stderr_is_terminal(); }

}  // namespace meltlag::cli
