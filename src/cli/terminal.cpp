// SPDX-License-Identifier: MIT
#include "terminal.hpp"

#include <algorithm>
#include <cstdlib>

#include "meltlag/base/system.hpp"

namespace meltlag::cli {
namespace {

bool is_set(char const* name) {
  char const* const value = std::getenv(name);
  return value != nullptr && *value != '\0';
}

}  // namespace

bool takes_emphasis(Stream stream) {
  bool const seen =
      stream == Stream::out ? system::stdout_is_terminal() : system::stderr_is_terminal();
  if (!seen) return false;
  return !is_set("NO_COLOR") && is_set("TERM") && std::string_view(std::getenv("TERM")) != "dumb";
}

std::string bold(std::string_view text, Stream stream) {
  if (!takes_emphasis(stream)) return std::string(text);
  return "\033[1m" + std::string(text) + "\033[0m";
}

std::string with_bold_line(std::string text, std::string_view beginning, Stream stream) {
  std::size_t start = text.rfind(beginning, 0) == 0 ? 0 : text.find("\n" + std::string(beginning));
  if (start == std::string::npos) return text;
  if (text[start] == '\n') ++start;
  std::size_t const end = std::min(text.find('\n', start), text.size());
  return text.replace(start, end - start, bold(text.substr(start, end - start), stream));
}

}  // namespace meltlag::cli
