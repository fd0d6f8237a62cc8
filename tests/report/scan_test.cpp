// SPDX-License-Identifier: MIT
#include "meltlag/report/scan.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace meltlag;

TEST_CASE("a coarse JPEG is told to read thin beads wide, and which beads") {
  scan::ScanResult result;
  result.pixel_mm = 25.4 / 300;
  auto const told = [&] {
    std::string const text = report::to_text(result);
    return text.find("narrower than 0.6 mm") != std::string::npos &&
           text.find("PNG or TIFF") != std::string::npos;
  };
  CHECK_FALSE(told());
  result.coarse_colour = true;
  CHECK(told());
  result.pixel_mm = 25.4 / 600;
  CHECK_FALSE(told());
}
