// SPDX-License-Identifier: MIT
// From where windows are solved: from what is given, or from a guess (schedule/guess.hpp). Which of
// them leads to the better place depends on the part: now and then both are tried.
#pragma once

#include <cstdint>

namespace meltlag::adapt {

class StartChoice {
 public:
  enum class Start : std::uint8_t { given, guess, both };

  [[nodiscard]] Start next() {
    if (windows_++ % every == 0) return Start::both;
    return gain_ > 0 ? Start::guess : Start::given;
  }
  // By how much less is misplaced from a guess, as a share of what is wanted.
  void learn(double gain) { gain_ += weight * (gain - gain_); }

 private:
  static constexpr int every = 20;
  static constexpr double weight = 0.4;
  int windows_ = 0;
  double gain_ = 0;
};

}  // namespace meltlag::adapt
