// SPDX-License-Identifier: MIT
#include "meltlag/base/error.hpp"

#include <doctest/doctest.h>

#include <string>

using meltlag::Error;
using meltlag::Place;

TEST_SUITE("base") {
  TEST_CASE("a place is written as file, line and column, as far as they are known") {
    CHECK(to_string(Place{}) == "");
    CHECK(to_string(Place{.file = "clip.gcode"}) == "clip.gcode");
    CHECK(to_string(Place{.file = "clip.gcode", .line = 12}) == "clip.gcode:12");
    CHECK(to_string(Place{.file = "clip.gcode", .line = 12, .column = 5}) == "clip.gcode:12:5");
    CHECK(to_string(Place{.line = 12, .column = 5}) == "12:5");
    CHECK(to_string(Place{.file = "clip.gcode", .line = 0, .column = 5}) == "clip.gcode");
  }

  TEST_CASE("an error says where, what and on its own line what to do") {
    Error const error(
        "cannot read 'Y'", {.file = "clip.gcode", .line = 3, .column = 7}, "Correct it.");
    CHECK(std::string(error.what()) == "clip.gcode:3:7: cannot read 'Y'\nCorrect it.");
    CHECK(error.where().line == 3);
    CHECK(error.hint() == "Correct it.");
  }

  TEST_CASE("an error without place and hint is its text alone") {
    CHECK(std::string(Error("no profile given").what()) == "no profile given");
  }
}
