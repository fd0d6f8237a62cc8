// SPDX-License-Identifier: MIT
#include "meltlag/profile/share.hpp"

#include <doctest/doctest.h>

#include "scratch.hpp"

using meltlag::profile::find_share_dir;

TEST_SUITE("profile") {
  TEST_CASE(
      "shipped profiles are found beside an installed program and above one in a build tree") {
    Scratch const scratch;
    scratch.write("usr/share/meltlag/profiles/materials/pla.toml", "");
    CHECK(find_share_dir(scratch.path("usr/bin/meltlag")) ==
          scratch.path("usr/share/meltlag/profiles"));
    scratch.write("work/profiles/materials/pla.toml", "");
    CHECK(find_share_dir(scratch.path("work/build/release/meltlag")) ==
          scratch.path("work/profiles"));
    scratch.write("other/profiles/bench.toml", "");
    CHECK(find_share_dir(scratch.path("other/meltlag")).empty());
    CHECK(find_share_dir("").empty());
  }
}
