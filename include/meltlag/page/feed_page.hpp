// SPDX-License-Identifier: MIT
// The page of `calibrate feed --read`: cups, bursts, and cups of bursts, whichever were read.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/page/html.hpp"
#include "meltlag/report/feed.hpp"

namespace meltlag::page {

struct FeedPage {
  struct Cups {
    report::FeedTable table;
    std::vector<fit::CupReading> readings;
  };
  std::string version;
  std::optional<Cups> cups;
  std::optional<fit::ScrewLimits> limits;
  std::optional<fit::StoreVerdict> store;
  std::vector<std::string> remarks;  // of the sheets
  std::string profile_title, profile_text;
};
// The values of --json that its tables name are those under "feed", "screw_limits" and "store".
void write_page(Out const& out, FeedPage const& page);

}  // namespace meltlag::page
