// SPDX-License-Identifier: MIT
// The whole road with print time to spend, or for a lag that is not known exactly. The first byte
// chooses the machine, the second what is asked for.
#include "road.hpp"

namespace meltlag::fuzz {

void try_bytes(std::string_view bytes) {
  static Files const files;
  if (bytes.size() < 2) return;
  auto options = options_of(static_cast<unsigned char>(bytes[0]));
  auto const asked = static_cast<unsigned char>(bytes[1]);
  if (asked & 1) options.price_mm3_per_s = asked & 2 ? 2 : 0.05;
  if (asked & 4) options.spread = {.run_on_share_sd = 0.3, .flow_index_sd = 0.1};
  if (asked & 8) options.min_speed_mm_s = 5;
  files.write_original(bytes.substr(2));
  walk(files, options);
}

}  // namespace meltlag::fuzz
