// SPDX-License-Identifier: MIT
// Quantities that are affine in a few neighbouring unknowns.
#pragma once

#include <algorithm>
#include <array>
#include <cassert>
#include <cstdint>
#include <limits>
#include <vector>

#include "meltlag/solve/band_program.hpp"

namespace meltlag::schedule {

// c + Σ coefficients·x[first + …]; with no unknowns when `first` is `constant_only`.
template <std::size_t Width>
struct BasicAffine {
  static constexpr std::uint32_t constant_only = std::numeric_limits<std::uint32_t>::max();
  std::uint32_t first = constant_only;
  std::uint32_t size = 0;  // coefficients behind it are 0, the last one within is not
  std::array<double, Width> c{};
  double constant = 0;

  void add(double coefficient, std::uint32_t unknown) {
    if (coefficient == 0) return;
    reach(unknown, unknown + 1);
    c[unknown - first] += coefficient;
    trim();
  }
  void add(double factor, BasicAffine const& other) {
    constant += factor * other.constant;
    // What comes to 0 takes no room.
    std::uint32_t begin = 0, end = other.size;
    while (begin < end && factor * other.c[begin] == 0) ++begin;
    while (begin < end && factor * other.c[end - 1] == 0) --end;
    if (begin == end) return;
    reach(other.first + begin, other.first + end);
    double* const to = c.data() + (other.first + begin - first);
    for (std::size_t i = begin; i < end; ++i) to[i - begin] += factor * other.c[i];
    trim();
  }
  // Would the sum with `other` still be narrow enough?
  [[nodiscard]] bool fits(BasicAffine const& other) const {
    if (size == 0 || other.size == 0) return true;
    return std::max(first + size, other.first + other.size) <= std::min(first, other.first) + Width;
  }
  // Its value, all unknowns given.
  [[nodiscard]] double at(std::vector<double> const& x) const {
    double sum = constant;
    for (std::size_t i = 0; i < size; ++i) sum += c[i] * x[first + i];
    return sum;
  }
  [[nodiscard]] solve::BasicRow<Width> row(double scale = 1) const {
    solve::BasicRow<Width> out{first, c};
    for (double& v : out.coefficients) v *= scale;
    return out;
  }

 private:
  // Makes room for the unknowns from `from` up to `to`.
  void reach(std::uint32_t from, std::uint32_t to) {
    if (size == 0) {
      first = from;
    } else if (from < first) {
      std::uint32_t const by = first - from;
      assert(size + by <= Width);
      for (std::size_t i = size; i-- > 0;) c[i + by] = c[i];
      std::fill_n(c.begin(), by, 0.0);
      first = from;
      size += by;
    }
    assert(to - first <= Width);
    size = std::max(size, to - first);
  }
  void trim() {
    while (size > 0 && c[size - 1] == 0) --size;
    if (size == 0) first = constant_only;
  }
};

}  // namespace meltlag::schedule
