// SPDX-License-Identifier: MIT
#include "meltlag/judge/invariants.hpp"

#include <doctest/doctest.h>

#include "judge/judged_texts.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

constexpr std::string_view sliced =
    "M83\nM104 S205\nG1 E8 F300 ; purge\nG1 X1 Y1 F3000\n"
    "M106 S255\nG1 X21 E1.2 F1800 ; wall\nG1 E-1 F1800\nG0 X21 Y11 F4800\nG1 E1 F1800\n"
    "; second\nG1 X1 E1.2 F1800\n";

constexpr std::string_view mark = "; adapted by meltlag\n";

std::string good() {
  return std::string(mark) +
         "M83\nM104 S205\nG1 E8 F300 ; purge\nG1 X1 Y1 F3000\n"
         "M106 S255\nG1 X11 E0.6 F1800\nG1 X21 E0.5 ; wall\nG0 X21 Y11 F4800\n"
         "; second\nG1 X11 E0.7 F1800\nG1 X1 E0.6\n";
}

std::string with(std::string text, std::string_view old_text, std::string_view new_text) {
  std::size_t const at = text.find(old_text);
  REQUIRE(at != std::string::npos);
  return text.replace(at, old_text.size(), new_text);
}

// The one thing that is broken.
std::string only_violation(std::string_view before,
                           std::string_view after,
                           judge::JudgeOptions const& options = bench_options()) {
  judge::Judgement const judged = judge_texts(before, after, options);
  REQUIRE(judged.violation_count == 1);
  return judged.violations.at(0);
}

bool tells(std::string const& text, std::string_view part) {
  CAPTURE(text);
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_SUITE("judge") {
  TEST_CASE("a good emitted file breaks nothing") {
    judge::Judgement const judged = judge_texts(sliced, good());
    for (std::string const& text : judged.violations) MESSAGE(text);
    CHECK(judged.violation_count == 0);
  }

  TEST_CASE("a lost line is reported by its number in the original") {
    std::string const broken = with(good(), "M106 S255\n", "");
    CHECK(tells(only_violation(sliced, broken), "line 5 of the original is lost"));
  }

  TEST_CASE("a line that is added is reported by its number") {
    std::string const broken = with(good(), "M106 S255\n", "M106 S255\nM104 S210\n");
    CHECK(tells(only_violation(sliced, broken), "line 7: added or changed: M104 S210"));
  }

  TEST_CASE("a line that moves to another place of the path is reported") {
    std::string const broken = with(
        with(good(), "M106 S255\n", ""), "G1 X11 E0.6 F1800\n", "G1 X11 E0.6 F1800\nM106 S255\n");
    CHECK(tells(only_violation(sliced, broken), "line 7: stands at another place"));
  }

  TEST_CASE("a lost comment of a rewritten move is reported") {
    CHECK(tells(only_violation(sliced, with(good(), " ; wall", "")),
                "comment of the original's line 6"));
  }

  TEST_CASE("a lost purge is reported") {
    std::string const broken = with(good(), "G1 E8 F300 ; purge\n", "; purge\n");
    CHECK(tells(only_violation(sliced, broken), "purge in the original's line 3"));
  }

  TEST_CASE("the marker must be there once and at the start") {
    CHECK(tells(only_violation(sliced, good().substr(mark.size())), "0 lines say"));
    CHECK(tells(only_violation(sliced, std::string(mark) + good()), "2 lines say"));
    CHECK(tells(only_violation(sliced, good().substr(mark.size()) + std::string(mark)),
                "not at its start"));
  }

  TEST_CASE("more turning in vain than as sliced is reported") {
    judge::JudgeOptions options = bench_options();
    options.plant.supply.max_flow_mm3_s = 4.5;  // the last wall's first cut asks for 5.1
    judge::Judgement const judged = judge_texts(sliced, good(), options);
    CHECK(judged.after.starved_mm3 > judged.before.starved_mm3);
    std::string const more = with(good(), "G1 X11 E0.6", "G1 X11 E2.6");
    judge::Judgement const worse = judge_texts(sliced, more, options);
    bool found = false;
    for (std::string const& text : worse.violations)
      found = found || tells(text, "the screw is turned in vain");
    CHECK(found);
  }

  TEST_CASE("an E jump beyond the limit is reported though the printer would slow down for it") {
    judge::JudgeOptions options = bench_options();
    options.limits.corner_jump_mm_s[motion::axis_e] = 0.2;
    judge::Judgement const judged = judge_texts(sliced, good(), options);
    bool found = false;
    for (std::string const& text : judged.violations) {
      found = found || tells(text, "line 8: E jumps too far");
    }
    CHECK(found);
  }

  TEST_CASE("E that is too fast or too sudden is reported") {
    judge::JudgeOptions options = bench_options();
    options.limits.max_speed_mm_s[motion::axis_e] = 1.0;
    judge::Judgement const judged = judge_texts(sliced, good(), options);
    REQUIRE(judged.violation_count > 0);
    CHECK(tells(judged.violations[0], "E is too fast"));
    options = bench_options();
    options.limits.max_acceleration_mm_s2[motion::axis_e] = 20;
    judge::Judgement const sudden = judge_texts(sliced, good(), options);
    REQUIRE(sudden.violation_count > 0);
    CHECK(tells(sudden.violations[0], "E accelerates too hard"));
  }

  TEST_CASE("nothing may be fed again where the nozzle is cold") {
    std::string const cold = with(std::string(sliced), "M104 S205", "M104 S60");
    std::string const broken = with(good(), "M104 S205", "M104 S60");
    judge::Judgement const judged = judge_texts(cold, broken);
    REQUIRE(judged.violation_count > 0);
    CHECK(tells(judged.violations[0], "E is changed where the nozzle is cold"));
  }

  TEST_CASE("a slower path is reported, and allowed where time was granted") {
    std::string const slow = with(good(), "G1 X1 E0.6\n", "G1 X1 E0.6 F600\n");
    judge::Judgement const judged = judge_texts(sliced, slow);
    REQUIRE(judged.violation_count > 0);
    CHECK(tells(judged.violations[0], "planned time grows"));
    judge::JudgeOptions granted = bench_options();
    granted.extra_time = 0.9;
    CHECK(judge_texts(sliced, slow, granted).violation_count == 0);
  }

  TEST_CASE("line numbers and checksums of rewritten lines must be right") {
    std::string const numbered = "N1 M83*25\nN2 G1 X5 E1*51\nN3 M106 S1*101\n";
    std::string const head(mark);
    CHECK(tells(only_violation(numbered, head + "N1 M83*25\nN2 G1 X5 E1*51\nN4 M106 S1*98\n"),
                "line 4: its number"));
    CHECK(tells(only_violation(numbered, head + "N1 M83*25\nN2 G1 X5 E1*50\nN3 M106 S1*101\n"),
                "line 3: its number"));
  }

  TEST_CASE("a count of E that is put back is no added line") {
    std::string const absolute = "M82\nG92 E0\nG1 X20 E1 F1200\nG1 Y20 E2\n";
    std::string const emitted =
        std::string(mark) + "M82\nG92 E0\nG1 X10 E0.4 F1200\nG1 X20 E0.9\nG92 E1\nG1 Y20 E2\n";
    CHECK(judge_texts(absolute, emitted).violation_count == 0);
  }
}
