// SPDX-License-Identifier: MIT
// What every emitted file must keep, proved while judge_files() walks along both files:
//  - the head's path, to 0.005 mm at each end of a move;
//  - lines that are not motion, in order, at the same place of the path, byte for byte but for N
//  and
//    its checksum (a G92 that puts E's count back may be added); the comments of rewritten moves;
//  - E within its speed, acceleration and jump, forward flow within max_flow_mm3_s, for all that is
//    not as written;
//  - E as written where the set temperature is below cold_below_c; each purge;
//  - planned time: the screw does not slow the head (0.1 %), the path alone takes as long as
//  before,
//    and the whole not longer than the original plus the time granted;
//  - one marker line, after a byte-order mark and a first '%'.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace meltlag::judge {

// Collects what is broken: the first few in words, all of them by number.
class Violations {
 public:
  // `line`: of the original, where what is broken lies in what became of one; else 0.
  void add(std::string text, std::int64_t line = 0);
  void append(Violations const& more);
  [[nodiscard]] std::vector<std::int64_t> const& lines() const { return lines_; }
  [[nodiscard]] std::int64_t count() const { return count_; }
  [[nodiscard]] std::vector<std::string> const& first() const { return first_; }

 private:
  std::vector<std::string> first_;
  std::vector<std::int64_t> lines_;
  std::int64_t count_ = 0;
};

}  // namespace meltlag::judge
