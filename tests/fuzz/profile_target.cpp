// SPDX-License-Identifier: MIT
// A profile: whatever it says, loading, reviewing and its lag law come back.
#include <string>

#include "meltlag/melt/lag_law.hpp"
#include "meltlag/profile/profile.hpp"
#include "meltlag/profile/review.hpp"
#include "meltlag/profile/settings_report.hpp"
#include "target.hpp"

namespace meltlag::fuzz {

void try_bytes(std::string_view bytes) {
  constexpr std::string_view settings = "M20";
  if (bytes.find(settings) < 8) {
    (void)profile::read_settings_report(bytes, "printer.txt");
    return;
  }
  // A name in no folder, so that no other file is read.
  profile::Profile const profile = profile::parse(bytes, "/nowhere/fuzz.toml");
  (void)profile::review(profile);
  auto const law = profile::lag_law(profile);
  promise(law.run_on_mm3 >= 0 && law.at_flow_mm3_s > 0, "a law that means nothing");
  promise(melt::lag_s(law, law.at_flow_mm3_s) >= 0, "a lag that is no time");
}

}  // namespace meltlag::fuzz
