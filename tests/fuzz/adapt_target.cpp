// SPDX-License-Identifier: MIT
// The whole road. The first byte chooses the machine.
#include "road.hpp"

namespace meltlag::fuzz {

void try_bytes(std::string_view bytes) {
  static Files const files;
  if (bytes.empty()) return;
  files.write_original(bytes.substr(1));
  walk(files, options_of(static_cast<unsigned char>(bytes.front())));
}

}  // namespace meltlag::fuzz
