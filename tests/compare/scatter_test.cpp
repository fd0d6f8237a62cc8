// SPDX-License-Identifier: MIT
#include "meltlag/compare/scatter.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "support/near.hpp"

TEST_SUITE("compare") {
  using namespace meltlag::compare;

  TEST_CASE("bias and scatter keep their digits on a large constant") {
    // NIST/SEMATECH Statistical Reference Datasets, univariate, NumAcc1 (certified: mean 10000002,
    // standard deviation 1) and NumAcc2's pattern 1.2, 1.1, 1.3 … (certified: 1.2 and 0.1).
    Offs const large = offs_of(std::vector<double>{10000001, 10000003, 10000002});
    CHECK_NEAR(large.bias, 10000002, 1e-8);
    CHECK_NEAR(large.bias_se * std::sqrt(3.0), 1, 1e-8);
    std::vector<double> second{1.2};
    for (int i = 0; i < 500; ++i) {
      second.push_back(1.1);
      second.push_back(1.3);
    }
    Offs const even = offs_of(second);
    CHECK_NEAR(even.bias, 1.2, 1e-13);
    CHECK_NEAR(even.bias_se * std::sqrt(1001.0), 0.1, 1e-13);
  }

  TEST_CASE("the root mean square holds bias and scatter") {
    // rms² = bias² + s²·(n − 1)/n: mathematics.
    std::vector<double> const offs{0.3, -0.1, 0.25, 0.4, -0.2, 0.05};
    Offs const o = offs_of(offs);
    double const s2 = o.bias_se * o.bias_se * 6;
    CHECK_NEAR(o.rms * o.rms, o.bias * o.bias + s2 * 5 / 6, 1e-15);
    CHECK(offs_of({}).count == 0);
    CHECK(offs_of(std::vector<double>{2}).rms == 2);
  }

  TEST_CASE("intervals of a share are those that were published") {
    // R. G. Newcombe, Statistics in Medicine 17 (1998), table I, method 3 (score, without
    // continuity correction); numbers from memory.
    struct Row {
      std::size_t hits, of;
      double low, high;
    };
    for (Row const& row : {Row{81, 263, 0.2553, 0.3662},
                           Row{15, 148, 0.0624, 0.1605},
                           Row{0, 20, 0, 0.1611},
                           Row{1, 29, 0.0061, 0.1718}}) {
      CAPTURE(row.hits);
      HitRate const rate = hit_rate(row.hits, row.of);
      CHECK_NEAR(rate.low, row.low, 5.1e-5);
      CHECK_NEAR(rate.high, row.high, 5.1e-5);
    }
    CHECK(hit_rate(20, 20).high == 1);
    CHECK_NEAR(hit_rate(20, 20).low, 1 - 0.1611, 5.1e-5);
    CHECK(hit_rate(0, 0).high == 1);
  }

  TEST_CASE("a slope without a constant is the certified one") {
    // NIST/SEMATECH Statistical Reference Datasets, linear regression, NoInt1: certified
    // B1 = 2.07438016528926, its standard deviation 0.165289256198347E-01.
    std::vector<double> x, y;
    for (int i = 0; i <= 10; ++i) {
      x.push_back(60 + i);
      y.push_back(130 + i);
    }
    Slopes const fit = fit_slopes(y, std::vector<double>(11, 1.0), {x});
    REQUIRE(fit.determined);
    CHECK_NEAR(fit.b[0], 2.07438016528926, 1e-12);
    CHECK_NEAR(fit.sd[0], 0.0165289256198347, 1e-13);
    // Certified residual sum of squares 127.272727272727.
    CHECK_NEAR(fit.chi2_after, 127.272727272727, 1e-9);
  }

  TEST_CASE("slopes that look alike are not distinguished") {
    std::vector<double> const x{1, 2, 3, 4, 5}, y{2, 3, 5, 8, 9};
    std::vector<double> twice;
    for (double const v : x) twice.push_back(2 * v);
    CHECK_FALSE(fit_slopes(y, std::vector<double>(5, 0.1), {x, twice}).determined);
    CHECK_FALSE(
        fit_slopes(y, std::vector<double>(5, 0.1), {std::vector<double>(5, 0.0)}).determined);
    CHECK(fit_slopes(y, std::vector<double>(5, 0.1), {x}).determined);
  }

  TEST_CASE("two slopes are found again, weighted by their deviations") {
    std::vector<double> a, b, off, sd;
    for (int i = 0; i < 12; ++i) {
      a.push_back(i);
      b.push_back(i % 3);
      off.push_back(0.4 * i - 1.5 * (i % 3));
      sd.push_back(i % 2 == 0 ? 0.1 : 2.0);
    }
    off[5] += 1;  // a row that counts little
    Slopes const fit = fit_slopes(off, sd, {a, b});
    CHECK_NEAR(fit.b[0], 0.4, 1e-3);
    CHECK_NEAR(fit.b[1], -1.5, 1e-2);
    // By the weights alone: the scatter is smaller than they say.
    CHECK(fit.chi2_after < 0.5);
  }

  TEST_CASE("the share explained is one less the squares that are left") {
    std::vector<double> const left{0.1, -0.1}, without{1, 1};
    CHECK_NEAR(share_explained(left, without), 0.99, 1e-15);
    CHECK(share_explained(without, left) < 0);
    CHECK(share_explained(left, std::vector<double>{0, 0}) == 0);
  }
}
