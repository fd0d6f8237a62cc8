// SPDX-License-Identifier: MIT
// What is judged on several threads is what one finds.
#include <doctest/doctest.h>

#include <string>
#include <utility>

#include "judge/judged_texts.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

// Runs of beads between retracts, with a screw that is too fast in every third and a line lost in
// every fifth of the emitted file.
std::pair<std::string, std::string> sliced_and_adapted() {
  std::string text = "M83\nM104 S205\n";
  std::string adapted = "; adapted by meltlag\n" + text;
  constexpr int runs = 400;  // far more moves than are handed over at once
  for (int i = 0; i < runs; ++i) {
    std::string const y = " Y" + std::to_string(i % 7 + 1);
    std::string const begin = "G0 X1" + y + " F4800\nG1 E1 F1800\n";
    std::string const setting = "M106 S" + std::to_string(i % 256) + "\n";
    std::string const end = "G1 E-1 F1800\n";
    text += begin + setting + "G1 X21 E1.2 F1800\n" + end;
    adapted +=
        begin + (i % 5 == 4 ? "" : setting) +
        (i % 3 == 2 ? "G1 X1.1 E1.2 F1800\nG1 X21 E0.1\n" : "G1 X11 E0.6 F1800\nG1 X21 E0.5\n") +
        end;
  }
  return {text, adapted};
}

void check_same(judge::PrintMetrics const& a, judge::PrintMetrics const& b) {
  CHECK(a.wanted_mm3 > 0);
  CHECK(a.wanted_mm3 == b.wanted_mm3);
  CHECK(a.misplaced_mm3 == b.misplaced_mm3);
  CHECK(a.bead_squares == b.bead_squares);
  CHECK(a.planned_s == b.planned_s);
  CHECK(a.path_s == b.path_s);
  CHECK(a.lines == b.lines);
}

}  // namespace

TEST_SUITE("judge") {
  TEST_CASE("no figure and no violation depends on the number of threads") {
    auto const [before, after] = sliced_and_adapted();
    for (double const delivered : {1.0, 0.9}) {
      CAPTURE(delivered);
      judge::JudgeOptions options = bench_options();
      options.plant.feed.delivered_factor = delivered;
      options.threads = 1;
      judge::Judgement const alone = judge_texts(before, after, options);
      options.threads = 3;
      judge::Judgement const other = judge_texts(before, after, options);
      check_same(alone.before, other.before);
      check_same(alone.after, other.after);
      check_same(alone.flow_set_right, other.flow_set_right);
      CHECK(alone.violation_count >= 133 + 80);
      CHECK(alone.violation_count == other.violation_count);
      CHECK(alone.violations == other.violations);
      CHECK(alone.violation_lines == other.violation_lines);
    }
  }
}
