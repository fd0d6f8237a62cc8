// SPDX-License-Identifier: MIT
// The pages of `causes` and `builds`: where the lag comes from, the barrel to scale, builds beside
// each other.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/melt/parts.hpp"
#include "meltlag/page/html.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/causes.hpp"

namespace meltlag::page {

// A profile as it was read.
struct ProfileText {
  std::string title, text;
};

struct CausesReport {
  std::string version;
  report::CausesPage causes;
  std::optional<report::AgainstPage> against;
  // For the picture, each as far as it is known.
  std::optional<melt::Barrel> barrel;
  std::optional<melt::Nozzle> nozzle;
  std::vector<ProfileText> profiles;  // this build's, then the older one's
};
void write_page(Out const& out, CausesReport const& report);

struct BuildsReport {
  std::string version;
  report::BuildsPage builds;
  std::vector<ProfileText> profiles;
};
void write_page(Out const& out, BuildsReport const& report);

}  // namespace meltlag::page
