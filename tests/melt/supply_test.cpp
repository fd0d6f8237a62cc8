// SPDX-License-Identifier: MIT
// The expected values are derived by hand from the table at the top of supply.hpp.
#include "meltlag/melt/supply.hpp"

#include <doctest/doctest.h>

#include <vector>

namespace meltlag::melt {
namespace {

constexpr SupplyLimits limits{.max_flow_mm3_s = 8, .burst_mm3 = 1, .max_burst_mm3_s = 20};

std::vector<Ramp> fed(Supply& supply, Ramp const& asked) {
  std::vector<Ramp> parts;
  supply.feed(asked, [&](Ramp const& part) { parts.push_back(part); });
  double duration = 0;
  for (Ramp const& part : parts) duration += part.duration_s;
  CHECK(duration == doctest::Approx(asked.duration_s));
  return parts;
}

double volume(std::vector<Ramp> const& parts) {
  double sum = 0;
  for (Ramp const& part : parts) sum += part.volume_mm3();
  return sum;
}

TEST_CASE("without limits all that is asked is fed") {
  Supply supply({});
  CHECK(volume(fed(supply, {2, 0, 1000})) == 1000);
  CHECK(supply.starved_mm3() == 0);
}

TEST_CASE("a burst above the flow fed for long empties the store after b/(x − q)") {
  Supply supply(limits);
  auto const parts = fed(supply, {1, 12, 12});
  REQUIRE(parts.size() == 2);
  CHECK(parts[0].duration_s == doctest::Approx(0.25));
  CHECK(parts[0].end_mm3_s == 12);
  CHECK(parts[1].start_mm3_s == 8);
  CHECK(volume(parts) == doctest::Approx(8 + 1));
  CHECK(supply.starved_mm3() == doctest::Approx(3));
  CHECK(supply.store_mm3() == 0);
}

TEST_CASE("the store fills with what is not fed, up to its size") {
  Supply supply(limits);
  fed(supply, {1, 12, 12});
  fed(supply, {0.1, 4, 4});
  CHECK(supply.store_mm3() == doctest::Approx(0.4));
  fed(supply, {1, 0, 0});
  CHECK(supply.store_mm3() == 1);
}

TEST_CASE("what was wound back is given again at any rate and leaves the store alone") {
  Supply supply(limits);
  fed(supply, {0.05, -40, -40});
  CHECK(supply.wound_back_mm3() == doctest::Approx(2));
  auto const parts = fed(supply, {0.05, 60, 60});
  CHECK(parts[0].end_mm3_s == 60);
  CHECK(parts[0].volume_mm3() == doctest::Approx(2));
  // Beyond it the burst is limited to 20 mm³/s and draws 12 mm³/s from the store.
  REQUIRE(parts.size() == 2);
  double const left_s = 0.05 - 2.0 / 60;
  CHECK(parts[1].start_mm3_s == 20);
  CHECK(supply.store_mm3() == doctest::Approx(1 - 12 * left_s));
  CHECK(supply.starved_mm3() == doctest::Approx(40 * left_s));
  CHECK(supply.wound_back_mm3() == 0);
}

TEST_CASE("a ramp is split where it crosses the limits") {
  Supply supply({.max_flow_mm3_s = 8});
  auto const parts = fed(supply, {1, 0, 16});
  REQUIRE(parts.size() == 2);
  CHECK(parts[0].duration_s == doctest::Approx(0.5));
  CHECK(parts[0].end_mm3_s == doctest::Approx(8));
  CHECK(parts[1].end_mm3_s == 8);
  CHECK(supply.starved_mm3() == doctest::Approx(2));
  fed(supply, {1, 16, 0});
  CHECK(supply.starved_mm3() == doctest::Approx(4));
}

TEST_CASE("a wait fills the store and leaves what is wound back") {
  Supply supply(limits);
  fed(supply, {1, 12, 12});
  fed(supply, {0.01, -10, -10});
  supply.wait();
  CHECK(supply.store_mm3() == 1);
  CHECK(supply.wound_back_mm3() == doctest::Approx(0.1));
}

TEST_CASE("steps of any size add up to the same") {
  Supply whole(limits), parts(limits);
  double sum = 0;
  for (int i = 0; i < 1000; ++i) {
    double const a = 30 * i / 1000.0, b = 30 * (i + 1) / 1000.0;
    sum += volume(fed(parts, {0.001, a, b}));
  }
  CHECK(volume(fed(whole, {1, 0, 30})) == doctest::Approx(sum).epsilon(1e-9));
  CHECK(whole.starved_mm3() == doctest::Approx(parts.starved_mm3()).epsilon(1e-9));
}

}  // namespace
}  // namespace meltlag::melt
