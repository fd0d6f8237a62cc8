// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include "meltlag/profile/load_test.hpp"
#include "scratch.hpp"
#include "support/near.hpp"

using namespace meltlag;

namespace {

profile::LoadTest read(std::string_view text) { return profile::read_load_test(text, "loads.csv"); }

std::string first_line(std::string_view text) {
  std::string const what = error_of([&] { (void)read(text); }).what();
  return what.substr(0, what.find('\n'));
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("readings on a line give its stiffness and the gauge's offset") {
    profile::LoadTest const test =
        read("# bracket\nforce_n,deflection_mm\n0,0.05\n100,0.15\n200,0.25\n300,0.35\n");
    CHECK_CLOSE(test.n_per_mm, 1000, 1e-12);
    CHECK_NEAR(test.offset_mm, 0.05, 1e-12 /*mm*/);
    CHECK_NEAR(test.n_per_mm_sd, 0, 1e-6 /*N/mm*/);
    CHECK(test.readings == 4);
  }

  TEST_CASE("kilograms count 9.80665 N each") {
    CHECK_CLOSE(read("deflection_mm,force_kg\n0,0\n0.1,10\n").n_per_mm, 980.665, 1e-12);
  }

  TEST_CASE("columns may be separated by semicolon or tab, then with decimal commas") {
    CHECK_CLOSE(read("\xEF\xBB\xBF"
                     "force_n; deflection_mm\r\n0; 0,0\r\n50; 0,1\r\n")
                    .n_per_mm,
                500,
                1e-12);
    CHECK_CLOSE(read("who\tforce_n\tdeflection_mm\na\t0\t0\nb\t50\t0,1\n").n_per_mm, 500, 1e-12);
  }

  // 0.1 mm/N · (0 … 4 N) plus residuals 0.01 mm · (1, −2, 1, 0, 0), which are orthogonal to 1 and
  // to the force: the slope stays, and their squares sum to 6e-4 mm².
  TEST_CASE("the scatter of the readings becomes the stiffness's deviation") {
    profile::LoadTest const test =
        read("force_n,deflection_mm\n0,0.01\n1,0.08\n2,0.21\n3,0.30\n4,0.40\n");
    double const slope = 0.1, scatter = 6e-4 / 3 / 10;  // sum of squares/(n − 2)/10 N²
    CHECK_CLOSE(test.n_per_mm, 1 / slope, 1e-12);
    CHECK_CLOSE(test.n_per_mm_sd, std::sqrt(scatter) / (slope * slope), 1e-9);
  }

  // 1000 N/mm, friction of 15 N against the motion: 0.015 mm less while loading, more on the way
  // back.
  TEST_CASE("loading and unloading are distinguished, with what they differ by") {
    profile::LoadTest const test = read(
        "force_n,deflection_mm\n0,0\n100,0.085\n200,0.185\n300,0.285\n300,0.285\n200,0.215\n"
        "100,0.115\n0,0.015\n");
    REQUIRE(test.loading.has_value());
    REQUIRE(test.unloading.has_value());
    REQUIRE(test.hysteresis.has_value());
    CHECK(test.loading->readings == 5);
    CHECK(test.unloading->readings == 3);
    CHECK_CLOSE(test.unloading->n_per_mm, 1000, 1e-9);
    CHECK_NEAR(test.unloading->n_per_mm_sd, 0, 1e-6);
    // In: 4.25 + 15 + 25 N·mm; out: 17.5 + 15 + 5.
    CHECK_CLOSE(test.hysteresis->energy_share.value(), (44.25 - 37.5) / 44.25, 1e-9);
    CHECK_NEAR(test.hysteresis->deflection_mm, 0.03, 0.008 /*mm*/);
    CHECK_CLOSE(test.hysteresis->force_n, test.hysteresis->deflection_mm * test.n_per_mm, 1e-12);
    CHECK(test.hysteresis->deflection_mm_sd > 0);
  }

  TEST_CASE("two parallel lines give one stiffness without any scatter, and their distance") {
    profile::LoadTest const test =
        read("force_n,deflection_mm\n0,0.01\n100,0.11\n200,0.21\n150,0.19\n50,0.09\n");
    CHECK_CLOSE(test.n_per_mm, 1000, 1e-9);
    CHECK_NEAR(test.n_per_mm_sd, 0, 1e-5);
    CHECK(test.freedom == 2);
    CHECK_NEAR(test.offset_mm, 0.01, 1e-12);
    CHECK_NEAR(test.hysteresis->deflection_mm, 0.03, 1e-12);
    CHECK_CLOSE(test.hysteresis->force_n, 30, 1e-9);
    CHECK_FALSE(test.hysteresis->energy_share.has_value());  // the force did not come back
  }

  TEST_CASE("rising forces alone have no unloading") {
    profile::LoadTest const test = read("force_n,deflection_mm\n0,0\n100,0.1\n100,0.1\n");
    CHECK(test.loading.has_value());
    CHECK_FALSE(test.unloading.has_value());
    CHECK_FALSE(test.hysteresis.has_value());
  }

  TEST_CASE("a load test that gives no stiffness says why, with its place") {
    CHECK(first_line("") == "loads.csv: this table is empty");
    CHECK(first_line("force,deflection_mm\n1,1\n") ==
          "loads.csv: the load test has no column force_n or force_kg");
    CHECK(first_line("force_n,force_kg,deflection_mm\n1,1,1\n") ==
          "loads.csv: the load test has both force_n and force_kg");
    CHECK(first_line("force_n,mm\n1,1\n") ==
          "loads.csv:1: this table has no column 'deflection_mm'");
    CHECK(first_line("force_n,deflection_mm\n1,0\n2,heavy\n") ==
          "loads.csv:3:2: 'heavy' in column deflection_mm is not a number");
    CHECK(first_line("force_n,deflection_mm\n1,nan\n") ==
          "loads.csv:2:2: 'nan' in column deflection_mm is not a number");
    CHECK(first_line("force_n,deflection_mm\n1\n") ==
          "loads.csv:2:2: deflection_mm is missing in this row of the load test");
    CHECK(first_line("force_n,deflection_mm\n1,1\n1,2\n") ==
          "loads.csv: the load test needs readings at two different forces or more");
    CHECK(first_line("force_n,deflection_mm\n1,2\n2,1\n") ==
          "loads.csv: in the load test the deflection does not grow with the force");
  }
}
