// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <map>
#include <vector>

#include "meltlag/adapt/inspection.hpp"
#include "meltlag/gcode/block.hpp"

namespace meltlag::adapt {

// Counts lines by their first code.
class CodeTable {
 public:
  void count(gcode::Block const& block);
  [[nodiscard]] std::vector<CodeCount> list() const;

 private:
  // Letter and ten times the number; {0, 0}: lines that are no code.
  std::map<std::pair<char, int>, std::int64_t> counts_;
  int motion_ = 1;  // G code that bare axis words continue
};

}  // namespace meltlag::adapt
