// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include "meltlag/melt/parts.hpp"

namespace meltlag::report {

[[nodiscard]] inline std::string cause_name(melt::ShareKind kind, std::string_view name) {
  if (kind == melt::ShareKind::melt) return "melt, compressed";
  if (kind == melt::ShareKind::air) return "air, compressed";
  return std::string(name);
}

// A, B, … Z, then all further ones alike.
[[nodiscard]] inline char letter(std::size_t index) {
  return index < 26 ? static_cast<char>('A' + index) : '+';
}

}  // namespace meltlag::report
