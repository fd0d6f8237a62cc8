// SPDX-License-Identifier: MIT
// Loops over columns of numbers, two at a time: the same results on every processor.
#pragma once

#include <cstddef>
#include <cstring>
#include <vector>

namespace meltlag::solve {

using Lanes = double __attribute__((vector_size(16)));

template <class V>
[[gnu::always_inline]] inline V load(std::vector<double> const& column, std::size_t i) {
  V v;
  std::memcpy(&v, column.data() + i, sizeof v);
  return v;
}

template <class V>
[[gnu::always_inline]] inline void store(std::vector<double>& column, std::size_t i, V v) {
  std::memcpy(column.data() + i, &v, sizeof v);
}

// Calls body(V{}, i) for pairs of elements, and with a plain double for the last one.
template <class Body>
void for_lanes(std::size_t n, Body&& body) {
  std::size_t i = 0;
  for (; i + 2 <= n; i += 2) body(Lanes{}, i);
  for (; i < n; ++i) body(double{}, i);
}

// Each lane adds up by itself.
struct LaneSum {
  Lanes pairs{};
  double last = 0;
  void add(Lanes v) { pairs += v; }
  void add(double v) { last += v; }
  [[nodiscard]] double total() const { return pairs[0] + pairs[1] + last; }
};

// The greatest of all, at least 0.
struct LaneMax {
  Lanes pairs{};
  double last = 0;
  void add(Lanes v) { pairs = v > pairs ? v : pairs; }
  void add(double v) { last = v > last ? v : last; }
  [[nodiscard]] double total() const {
    double const pair = pairs[0] > pairs[1] ? pairs[0] : pairs[1];
    return pair > last ? pair : last;
  }
};

}  // namespace meltlag::solve
