// SPDX-License-Identifier: MIT
// Parts written as G-code for the tests of what the screw can feed.
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <numbers>
#include <string>

namespace meltlag_test {

class PartText {
 public:
  PartText(double e_per_mm, double retract_mm) : e_per_mm_(e_per_mm), retract_mm_(retract_mm) {
    text_ = "G21\nM83\n";
  }
  PartText& to(double x, double y, double speed_mm_s) {
    double const e = e_per_mm_ * std::hypot(x - x_, y - y_);
    text_ += fmt::format("G1 X{:.3f} Y{:.3f} E{:.5f} F{:.0f}\n", x, y, e, 60 * speed_mm_s);
    return at(x, y);
  }
  PartText& travel(double x, double y) {
    text_ += fmt::format("G0 X{:.3f} Y{:.3f} F4800\n", x, y);
    return at(x, y);
  }
  PartText& hop(double x, double y) {
    text_ += fmt::format("G1 E{:.5f} F1800\n", -retract_mm_);
    travel(x, y);
    text_ += fmt::format("G1 E{:.5f} F1800\n", retract_mm_);
    return *this;
  }
  PartText& frame(double low, double right, double high, double speed_mm_s) {
    return to(right, low, speed_mm_s)
        .to(right, high, speed_mm_s)
        .to(low, high, speed_mm_s)
        .to(low, low, speed_mm_s);
  }
  PartText& ring(double x, double y, double radius, int sides, double speed_mm_s) {
    hop(x + radius, y);
    for (int i = 1; i <= sides; ++i) {
      double const turn = 2 * std::numbers::pi * i / sides;
      to(x + radius * std::cos(turn), y + radius * std::sin(turn), speed_mm_s);
    }
    return *this;
  }
  [[nodiscard]] std::string const& text() const { return text_; }

 private:
  PartText& at(double x, double y) {
    x_ = x;
    y_ = y;
    return *this;
  }
  double e_per_mm_, retract_mm_;
  std::string text_;
  double x_ = 0, y_ = 0;
};

// Two walls, a ring of short sides and rows of infill: a bench sample of some 20 s.
inline std::string walls_ring_and_rows() {
  PartText part(0.075, 1.0);
  part.travel(0.3, 0.3).frame(0.3, 24.7, 26.7, 30).hop(0.9, 0.9).frame(0.9, 24.1, 26.1, 30);
  part.ring(12.5, 12, 4, 12, 25).hop(1.8, 1.8);
  for (int row = 0; row < 14; ++row) {
    double const y = 1.8 + 1.2 * row;
    if (row > 0) part.to(row % 2 == 0 ? 1.8 : 23.2, y, 40);
    part.to(row % 2 == 0 ? 23.2 : 1.8, y, 40);
  }
  return part.text();
}

// Two layers of a foot with holes: walls and rows interrupted by a hole, near what the screw feeds.
inline std::string foot_with_holes() {
  PartText part(0.104, 1.2);
  part.travel(0.5, 0.5);
  for (int layer = 0; layer < 2; ++layer) {
    if (layer > 0) part.hop(0.5, 0.5);
    part.frame(0.5, 31.5, 21.5, 29).hop(1.4, 1.4).frame(1.4, 30.6, 20.6, 29);
    part.ring(9, 11, 3.5, 16, 22).ring(23, 11, 3.5, 16, 22);
    for (int row = 0; row < 5; ++row) {
      double const y = 3 + 4 * row;
      part.hop(2.3, y);
      if (row > 0 && row < 4) {
        part.to(5, y, 29).hop(13, y).to(19, y, 29).hop(27, y);
      }
      part.to(29.7, y, 29);
    }
  }
  return part.text();
}

}  // namespace meltlag_test
