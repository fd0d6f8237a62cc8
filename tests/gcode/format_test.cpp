// SPDX-License-Identifier: MIT
#include "meltlag/gcode/format.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <string>

using namespace meltlag::gcode;

namespace {

std::string number(double value, int decimals) {
  std::string out;
  append_number(out, value, decimals);
  return out;
}

}  // namespace

TEST_SUITE("gcode") {
  TEST_CASE("numbers are written rounded, without trailing zeros and without minus zero") {
    CHECK(number(12.5, 3) == "12.5");
    CHECK(number(100, 3) == "100");
    CHECK(number(100, 0) == "100");
    CHECK(number(0.12345678, 5) == "0.12346");
    CHECK(number(-0.0004, 3) == "0");
    CHECK(number(-0.0, 0) == "0");
    CHECK(number(-0.0006, 3) == "-0.001");
    CHECK(number(999999.99999, 4) == "1000000");
    CHECK(number(0.09862000000000004, 17) == "0.09862000000000004");
    CHECK(number(1e-9, 5) == "0");
    CHECK(number(1e300, 2).size() == 301);
  }

  TEST_CASE("a number is appended to what is there") {
    std::string out = "X";
    append_number(out, 1.25, 2);
    CHECK(out == "X1.25");
  }

  TEST_CASE("written numbers read back to within half of the last place") {
    std::mt19937_64 random(3);
    std::uniform_real_distribution<double> value(-1000, 1000);
    Block block;
    for (int round = 0; round < 20'000; ++round) {
      int const decimals = round % 10;
      double const wanted = value(random);
      std::string text = "E";
      append_number(text, wanted, decimals);
      CAPTURE(text);
      read_block(text, block);
      REQUIRE(block.words.size() == 1);
      CHECK(std::abs(block.words[0].value - wanted) <= 0.5000001 * std::pow(10, -decimals));
    }
  }

  TEST_CASE("the decimals of a word are counted as written") {
    Block block;
    read_block("G1 X10 Y5. Z.5 E0.09862000000000004 I1. 2 5", block);
    int const wanted[] = {0, 0, 0, 1, 17, 2};
    REQUIRE(block.words.size() == 6);
    for (std::size_t i = 0; i < 6; ++i) CHECK(decimals_of(block, block.words[i]) == wanted[i]);
  }

  TEST_CASE("a line gets its number and checksum, and reads back as right") {
    std::string out;
    append_numbered(out, 42, "G28", Checksum::append);
    CHECK(out == "N42 G28*37");
    out += '\n';
    append_numbered(out, 3, "T0", Checksum::append);
    CHECK(out == "N42 G28*37\nN3 T0*57");
    std::string plain;
    append_numbered(plain, 7, "G1 X1 ; wall", Checksum::none);
    CHECK(plain == "N7 G1 X1 ; wall");
  }
}
