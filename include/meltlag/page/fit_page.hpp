// SPDX-License-Identifier: MIT
// The page of `calibrate fit`.
#pragma once

#include <string>
#include <vector>

#include "meltlag/fit/fit.hpp"
#include "meltlag/page/html.hpp"
#include "meltlag/reading/reading.hpp"

namespace meltlag::page {

struct FitPage {
  std::string file = {}, sheet = {}, version = {};
  fit::FitResult const& fit;
  reading::PrintedPath const& path;
  std::vector<reading::Reading> const& readings;  // those that were fitted, among others
  std::string profile_title = {}, profile_text = {};
};
// The values of --json that its tables name are those of report::to_json(fit).
void write_page(Out const& out, FitPage const& page);

}  // namespace meltlag::page
