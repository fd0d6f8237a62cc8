// SPDX-License-Identifier: MIT
// Comparisons with a stated tolerance: doctest's Approx is relative on a scale of at least 1, too
// loose for small numbers.
#pragma once

#include <doctest/doctest.h>

#include <cmath>

// |actual − expected| ≤ tolerance, in the unit of both.
#define CHECK_NEAR(actual, expected, tolerance)                      \
  do {                                                               \
    double const near_actual = (actual), near_expected = (expected); \
    CAPTURE(near_actual);                                            \
    CAPTURE(near_expected);                                          \
    CHECK(std::abs(near_actual - near_expected) <= (tolerance));     \
  } while (false)

// |actual/expected − 1| ≤ tolerance.
#define CHECK_CLOSE(actual, expected, tolerance) \
  CHECK_NEAR(actual, expected, (tolerance)*std::abs(static_cast<double>(expected)))
