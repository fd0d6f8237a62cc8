// SPDX-License-Identifier: MIT
// Reading a file line by line in bounded memory, byte-exact.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

namespace meltlag::gcode {

// The bytes of one line. Views are valid until the next call of LineSource::next.
struct RawLine {
  std::string_view text;        // without line break; the first line without a byte-order mark
  std::string_view line_break;  // "\n", "\r\n", "\r" or ""
  std::int64_t line = 0;        // 1-based
  std::uint64_t offset = 0;     // of text's first byte in the file
};

// Streams a regular file or a pipe. A lone CR ends a line too. Every byte of the file is in exactly
// one of: bom(), a line's text, a line's line_break.
class LineSource {
 public:
  // `path` "-" reads standard input. Throws Error when it cannot be opened or is a directory.
  explicit LineSource(std::string const& path);
  // Reads from memory (for tests and samples); `text` must outlive the source.
  static LineSource from_text(std::string_view text, std::string name);
  LineSource(LineSource&&) noexcept;
  ~LineSource();

  // Tells how much of the file is read (progress.hpp). False at the end. Throws Error on a read
  // error, and on a NUL byte ("is a binary file").
  [[nodiscard]] bool next(RawLine& line);

  [[nodiscard]] std::string_view bom()
      const;  // the byte-order mark, or empty; known after the first next()
  [[nodiscard]] std::string const& name() const;   // for messages
  [[nodiscard]] std::uint64_t size_bytes() const;  // 0 when not known (a pipe)

 private:
  struct State;
  explicit LineSource(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace meltlag::gcode
