// SPDX-License-Identifier: MIT
#include "meltlag/fit/linear_fit.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>

#include "support/near.hpp"

using namespace meltlag::fit;

namespace {

struct Pair {
  double y, x;
};

// NIST Statistical Reference Datasets, linear regression, "Norris".
constexpr auto norris = std::to_array<Pair>(
    {{0.1, 0.2},     {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1},    {228.1, 226.5},
     {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4},
     {0.1, 0.6},     {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
     {557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3},
     {0.6, 0.3},     {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0},
     {10.2, 11.1},   {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5}});

// NIST Statistical Reference Datasets, analysis of variance, "SiRstv": resistivity of silicon,
// five readings on each of five instruments.
constexpr std::array<std::array<double, 5>, 5> silicon{
    {{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
     {196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
     {196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
     {196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
     {196.2119, 196.1051, 196.1850, 196.0052, 196.2090}}};

struct Groups {
  LinearFit one_mean, own_means;
};

Groups fit_silicon() {
  std::vector<double> y;
  std::vector<std::vector<double>> means(5, std::vector<double>(25, 0.0));
  for (std::size_t i = 0; i < 5; ++i)
    for (double const value : silicon[i]) {
      means[i][y.size()] = 1;
      y.push_back(value);
    }
  std::vector<std::vector<double>> const one{std::vector<double>(25, 1.0)};
  return {fit_linear(y, one), fit_linear(y, means)};
}

}  // namespace

TEST_SUITE("fit") {
  // Certified values as NIST publishes them with the data.
  TEST_CASE("a straight line through certified data has the certified figures") {
    std::vector<double> y;
    std::vector<std::vector<double>> columns(2);
    for (Pair const& point : norris) {
      y.push_back(point.y);
      columns[0].push_back(1);
      columns[1].push_back(point.x);
    }
    LinearFit const fit = fit_linear(y, columns);
    CHECK(fit.freedom == 34);
    CHECK_CLOSE(fit.coefficients[0], -0.262323073774029, 1e-10);
    CHECK_CLOSE(fit.coefficients[1], 1.00211681802045, 1e-12);
    CHECK_CLOSE(fit.standard_errors[0], 0.232818234301152, 1e-11);
    CHECK_CLOSE(fit.standard_errors[1], 0.429796848199937e-3, 1e-11);
    CHECK_CLOSE(fit.residual_sd(), 0.884796396144373, 1e-11);
    std::vector<std::vector<double>> const one{columns[0]};
    LinearFit const mean = fit_linear(y, one);
    CHECK_CLOSE(test_nested(mean, fit).statistic, 5436385.54079785, 1e-10);
    double const t = test_coefficient(fit, 1).statistic;
    CHECK_CLOSE(t * t, 5436385.54079785, 1e-10);
  }

  TEST_CASE("a one-way analysis of variance of certified data has the certified figures") {
    Groups const fits = fit_silicon();
    CHECK(fits.own_means.freedom == 20);
    CHECK_CLOSE(fits.own_means.residual_squares, 2.16636560000000e-1, 1e-9);
    CHECK_CLOSE(fits.one_mean.residual_squares - fits.own_means.residual_squares,
                5.11462616000000e-2,
                1e-9);
    CHECK_CLOSE(fits.own_means.residual_sd(), 1.04076068334656e-1, 1e-9);
    CHECK_CLOSE(test_nested(fits.one_mean, fits.own_means).statistic, 1.18046237440255, 1e-9);
  }

  // Tables of the t, F and χ² distributions: NIST/SEMATECH e-Handbook of Statistical Methods,
  // 1.3.6.7 (t: 2.086 at 20; F: 2.866 at 4 and 20, 5 %; χ²: 9.591 and 34.170 at 20).
  TEST_CASE("chances agree with printed tables") {
    CHECK_NEAR(t_of_95_percent(20), 2.086, 5e-4);
    SdFactors const factors = sd_factors_of_95_percent(20);
    CHECK_NEAR(factors.low, std::sqrt(20 / 34.170), 5e-5);
    CHECK_NEAR(factors.high, std::sqrt(20 / 9.591), 5e-5);
    LinearFit const full{.residual_squares = 20, .freedom = 20};
    LinearFit const part{.residual_squares = 20 + 4 * 2.866, .freedom = 24};
    CHECK_NEAR(test_nested(part, full).p, 0.05, 2e-5);
    LinearFit const slope{
        .coefficients = {2.086}, .standard_errors = {1}, .residual_squares = 1, .freedom = 20};
    CHECK_NEAR(test_coefficient(slope, 0).p, 0.05, 2e-5);
  }

  TEST_CASE("data without any scatter leave nothing to chance") {
    std::vector<double> const y{1, 1, 2, 2};
    std::vector<std::vector<double>> const means{{1, 1, 0, 0}, {0, 0, 1, 1}};
    std::vector<std::vector<double>> const one{{1, 1, 1, 1}};
    LinearFit exact = fit_linear(y, means);
    exact.residual_squares = 0;
    CHECK(test_nested(fit_linear(y, one), exact).p == 0);
    CHECK(test_nested(exact, {.residual_squares = 0, .freedom = 1}).p == 1);
    exact.standard_errors[0] = 0;
    CHECK(test_coefficient(exact, 0).p == 0);
  }
}
