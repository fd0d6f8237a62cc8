// SPDX-License-Identifier: MIT
// Writes G-code line by line: relative E, absolute XYZ, every number as it is written.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "meltlag/base/vec.hpp"

namespace meltlag::testpiece::piece {

class Writer {
 public:
  // One line, or several with their line breaks, as they are.
  void text(std::string_view lines);
  void comment(std::string_view words);

  // Each returns its line's number. Only axes that change are written, and F where it changes.
  std::int64_t print(Vec3 to, double e_mm_per_mm, double speed_mm_s);
  std::int64_t go(Vec3 to, double speed_mm_s);          // the screw stands
  std::int64_t turn(double e_mm, double speed_e_mm_s);  // the head stands
  std::int64_t dwell(double seconds);
  // The head is somewhere unknown: the next move writes all axes.
  void forget_place();

  [[nodiscard]] Vec3 at() const { return at_; }
  [[nodiscard]] double e_mm() const { return e_mm_; }  // so far
  [[nodiscard]] std::string const& gcode() const { return gcode_; }
  [[nodiscard]] std::string take() { return std::move(gcode_); }

 private:
  Vec3 axes(Vec3 to);
  std::int64_t finish(double speed_mm_s);

  std::string gcode_;
  std::int64_t line_ = 0;
  Vec3 at_;
  bool known_ = false;
  std::string feed_;
  double e_mm_ = 0;
};

}  // namespace meltlag::testpiece::piece
