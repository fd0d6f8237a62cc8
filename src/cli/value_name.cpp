// SPDX-License-Identifier: MIT
#include "value_name.hpp"

namespace meltlag::cli {

std::string value_name(CLI::Option const& option) {
  std::string name = option.get_type_name();
  if (std::size_t const colon = name.find(':'); colon != std::string::npos) {
    std::size_t const range = name.find(" in [", colon);
    name.erase(colon, range == std::string::npos ? range : range - colon);
  }
  return name == "TEXT" ? "FILE" : name;
}

}  // namespace meltlag::cli
