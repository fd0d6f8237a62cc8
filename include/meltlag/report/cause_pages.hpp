// SPDX-License-Identifier: MIT
// The pages of `causes` and `builds`: where the lag comes from, the barrel to scale, builds beside
// each other.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/melt/parts.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/causes.hpp"
#include "meltlag/report/html.hpp"

namespace meltlag::report {

// A profile as it was read.
struct ProfileText {
  std::string title, text;
};

struct CausesReport {
  std::string version;
  CausesPage causes;
  std::optional<AgainstPage> against;
  // For the picture, each as far as it is known.
  std::optional<melt::Barrel> barrel;
  std::optional<melt::Nozzle> nozzle;
  std::vector<ProfileText> profiles;  // this build's, then the older one's
};
void write_page(Out const& out, CausesReport const& report);

struct BuildsReport {
  std::string version;
  BuildsPage builds;
  std::vector<ProfileText> profiles;
};
void write_page(Out const& out, BuildsReport const& report);

}  // namespace meltlag::report
