// SPDX-License-Identifier: MIT
// Seeded random band programs that have a feasible point: ranges are laid around a hidden one.
#pragma once

#include <algorithm>
#include <random>

#include "meltlag/solve/band_program.hpp"

namespace meltlag_test {

inline meltlag::solve::BandProgram random_program(std::size_t unknowns, unsigned seed) {
  using namespace meltlag::solve;
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> coefficient(-1, 1), width(0.05, 1);
  std::uniform_int_distribution<int> kind(0, 5);
  BandProgram program;
  program.unknowns = unknowns;
  std::vector<double> hidden(unknowns);
  for (double& h : hidden) h = coefficient(random);
  auto const row = [&](std::size_t i) {
    Row r{static_cast<std::uint32_t>(i), {}};
    for (std::size_t k = 0; k < std::min(row_width, unknowns - i); ++k) {
      r.coefficients[k] = coefficient(random);
    }
    return r;
  };
  for (std::size_t i = 0; i < unknowns; ++i) {
    program.terms.push_back({row(i), 2 * coefficient(random)});
    program.terms.push_back({row(i), 2 * coefficient(random)});
    Row const r = row(i);
    double at = 0;
    for (std::size_t k = 0; k < std::min(row_width, unknowns - i); ++k) {
      at += r.coefficients[k] * hidden[i + k];
    }
    Range range{r, at - width(random), at + width(random)};
    int const open = kind(random);
    if (open == 0) range.low = -std::numeric_limits<double>::infinity();
    if (open == 1) range.high = std::numeric_limits<double>::infinity();
    program.ranges.push_back(range);
  }
  return program;
}

inline double value_at(meltlag::solve::Row const& row, std::vector<double> const& x) {
  double sum = 0;
  for (std::size_t k = 0; k < meltlag::solve::row_width && row.first + k < x.size(); ++k) {
    sum += row.coefficients[k] * x[row.first + k];
  }
  return sum;
}

// Greatest violation of a range.
inline double worst_violation(meltlag::solve::BandProgram const& program,
                              std::vector<double> const& x) {
  double worst = 0;
  for (auto const& range : program.ranges) {
    double const v = value_at(range.row, x);
    worst = std::max({worst, range.low - v, v - range.high});
  }
  return worst;
}

}  // namespace meltlag_test
