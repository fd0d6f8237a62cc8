// SPDX-License-Identifier: MIT
// G-code of a head that stands still while the screw turns; adds up time and plastic.
#pragma once

#include <random>
#include <string>
#include <string_view>

#include "meltlag/testpiece/feed.hpp"

namespace meltlag::testpiece {

class FeedWriter {
 public:
  explicit FeedWriter(FeedOptions const& options);

  void text(std::string_view lines) { gcode_ += lines; }
  void comment(std::string_view words);
  // Shows `words` on the display and in a comment.
  void announce(std::string_view words);
  // Turns the screw at a constant rate; E < 0 turns it back. Returns the volume written, mm³ > 0.
  double turn(double e_mm, double e_mm_s);
  // The same for `seconds` at `flow_mm3_s`.
  double run(double flow_mm3_s, double seconds);
  void wait(double seconds);
  // Gives the person time for what was announced.
  void hand_over();
  // Waits for a press of the button, whatever FeedOptions::swap says.
  void pause();

  [[nodiscard]] double e_speed_mm_s(double flow_mm3_s) const { return flow_mm3_s / area_mm2_; }
  [[nodiscard]] double area_mm2() const { return area_mm2_; }
  [[nodiscard]] double seconds() const { return seconds_; }
  [[nodiscard]] double plastic_mm3() const { return plastic_mm3_; }
  [[nodiscard]] std::string take() { return std::move(gcode_); }

 private:
  FeedOptions const& options_;
  double area_mm2_;
  std::string gcode_;
  double seconds_ = 0, plastic_mm3_ = 0;
};

// Reverse and forward bursts at rising rates, appended to `program`.
void write_bursts(FeedOptions const& options, FeedWriter& writer, FeedProgram& program);

// Cups of bursts and of none in shuffled rounds, appended to `program`.
void write_store_cups(FeedOptions const& options,
                      StorePlan const& plan,
                      FeedWriter& writer,
                      FeedProgram& program);

// std::shuffle's draws differ from one standard library to the next.
template <typename Value>
void shuffle(std::vector<Value>& values, std::mt19937& random) {
  for (std::size_t i = values.size(); i > 1; --i) std::swap(values[i - 1], values[random() % i]);
}

// Throws Error where the options break a limit or make no sense. `flows_mm3_s` are filled in.
[[nodiscard]] FeedOptions checked(FeedOptions options);

}  // namespace meltlag::testpiece
