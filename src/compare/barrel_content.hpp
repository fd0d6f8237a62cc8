// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>

namespace meltlag::compare {

// What is in the barrel, as slices of equal volume in the order in which they leave; each knows
// when it came in. What is there at the beginning came in at 0 s.
class BarrelContent {
 public:
  explicit BarrelContent(double volume_mm3) : slice_mm3_(volume_mm3 / slices) {}

  struct Feed {
    double mm3;  // negative: drawn back, and fed again before anything moves on
    double from_s, duration_s;
  };
  // Calls left(residence_s, mm3) for each slice that this stroke pushes out.
  template <class Left>
  void feed(Feed const& feed, Left const& left) {
    double const before = fed_mm3_;
    fed_mm3_ += feed.mm3;
    if (feed.mm3 <= 0) return;
    while (next_mm3_ <= fed_mm3_) {
      double const part = (next_mm3_ - before) / feed.mm3;
      double const now_s = feed.from_s + std::fmax(0, part) * feed.duration_s;
      left(now_s - came_in_s_[oldest_], slice_mm3_);
      came_in_s_[oldest_] = now_s;
      oldest_ = (oldest_ + 1) % slices;
      next_mm3_ = slice_mm3_ * static_cast<double>(++count_ + 1);
    }
  }

  [[nodiscard]] double oldest_s(double now_s) const { return now_s - came_in_s_[oldest_]; }

 private:
  static constexpr std::size_t slices = 512;
  double slice_mm3_;
  double fed_mm3_ = 0, next_mm3_ = slice_mm3_;
  std::int64_t count_ = 0;
  std::array<double, slices> came_in_s_{};
  std::size_t oldest_ = 0;
};

}  // namespace meltlag::compare
