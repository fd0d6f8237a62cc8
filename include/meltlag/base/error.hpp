// SPDX-License-Identifier: MIT
// The user's input or files are at fault: thrown by any room, caught once, in `main`.
#pragma once

#include <cstdint>
#include <exception>
#include <string>

namespace meltlag {

// A place in a text file. `line` and `column` are 1-based; 0 means "not known".
struct Place {
  std::string file;
  std::int64_t line = 0;
  std::int64_t column = 0;
};

// "part.gcode:12:5", leaving out what is not known; empty for an empty place.
[[nodiscard]] std::string to_string(Place const& place);

// What is wrong, where, and what to do about it. `what()` is the whole message,
// "part.gcode:12:5: cannot read 'Y': …", followed by the hint on a line of its own.
class Error : public std::exception {
 public:
  Error(std::string what, Place where, std::string hint);
  explicit Error(std::string what) : Error(std::move(what), {}, {}) {}

  [[nodiscard]] char const* what() const noexcept override { return message_.c_str(); }
  [[nodiscard]] Place const& where() const noexcept { return where_; }
  [[nodiscard]] std::string const& hint() const noexcept { return hint_; }

 private:
  Place where_;
  std::string hint_;
  std::string message_;
};

}  // namespace meltlag
