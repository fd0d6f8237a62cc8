// SPDX-License-Identifier: MIT
#include "reference.hpp"
namespace meltlag_reference {
std::vector<std::string> check_invariants(
    std::string_view, std::string_view, const Plant&, const Machine&, const InvariantOptions&) {
  return {};
}
}  // namespace meltlag_reference
