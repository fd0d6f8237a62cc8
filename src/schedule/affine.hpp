// SPDX-License-Identifier: MIT
// Quantities that are affine in a few neighbouring unknowns.
#pragma once

#include <algorithm>
#include <array>
#include <cassert>
#include <cstdint>
#include <limits>

#include "meltlag/solve/band_program.hpp"

namespace meltlag::schedule {

// c + Σ coefficients·x[first + …]; with no unknowns when `first` is `constant_only`.
template <std::size_t Width>
struct BasicAffine {
  static constexpr std::uint32_t constant_only = std::numeric_limits<std::uint32_t>::max();
  std::uint32_t first = constant_only;
  std::array<double, Width> c{};
  double constant = 0;

  void add(double coefficient, std::uint32_t unknown) {
    if (coefficient == 0) return;
    if (first == constant_only) first = unknown;
    if (unknown < first) {  // shift right to make room in front
      std::uint32_t const by = first - unknown;
      for (std::size_t i = 0; i < Width; ++i) assert(c[i] == 0 || i + by < Width);
      for (std::size_t i = Width; i-- > 0;) c[i] = i >= by ? c[i - by] : 0;
      first = unknown;
    }
    std::size_t const at = unknown - first;
    assert(at < Width);
    c[at] += coefficient;
  }
  void add(double factor, BasicAffine const& other) {
    constant += factor * other.constant;
    if (other.first == constant_only) return;
    for (std::size_t i = 0; i < Width; ++i) {
      add(factor * other.c[i], other.first + static_cast<std::uint32_t>(i));
    }
  }
  // Would the sum with `other` still be narrow enough?
  [[nodiscard]] bool fits(BasicAffine const& other) const {
    if (first == constant_only || other.first == constant_only) return true;
    return std::max(last(), other.last()) < std::min(first, other.first) + Width;
  }
  [[nodiscard]] std::uint32_t last() const {
    std::size_t k = Width - 1;
    while (k > 0 && c[k] == 0) --k;
    return first + static_cast<std::uint32_t>(k);
  }
  [[nodiscard]] solve::BasicRow<Width> row(double scale = 1) const {
    solve::BasicRow<Width> out{first, c};
    for (double& v : out.coefficients) v *= scale;
    return out;
  }
};

}  // namespace meltlag::schedule
