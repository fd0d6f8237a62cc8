// SPDX-License-Identifier: MIT
// How rewritten lines read.
#include <doctest/doctest.h>

#include <algorithm>
#include <cstdlib>

#include "adapt_sample.hpp"
#include "support/near.hpp"
#include "support/sanitizers.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

// For lines that the reference does not know: held to the program's own check.
std::vector<std::string> adapt_checked(std::string const& text) {
  auto const plant = plant_of(0.3, 1);
  std::string const emitted = adapt_text(text, options_for(plant)).text;
  auto figures = bench_options();
  figures.plant = plant;
  auto const judged = judge_texts(text, emitted, figures);
  CHECK_MESSAGE(judged.violations.empty(), all_of(judged.violations));
  return lines_of(emitted);
}

std::ptrdiff_t count_with(std::vector<std::string> const& lines, std::string_view part) {
  return std::count_if(lines.begin(), lines.end(), [&](std::string const& line) {
    return line.find(part) != std::string::npos;
  });
}

std::string hop_with(std::string_view retract, std::string_view recovery) {
  std::string text = "M83\nM104 S205\nG1 X40 E3.6 F1500\n";
  (text += retract) += "\nG0 X40 Y20\n";
  (text += recovery) += "\nG1 X0 Y20 E3.6 F1500\n";
  return text;
}

// The line in front of `line`.
std::string in_front_of(std::vector<std::string> const& lines, std::string_view line) {
  auto const found = std::ranges::find(lines, line);
  REQUIRE(found != lines.end());
  REQUIRE(found != lines.begin());
  return *(found - 1);
}

// Sum of all relative E words.
double sum_of_e(std::vector<std::string> const& lines) {
  double sum = 0;
  for (std::string const& line : lines) {
    std::size_t const at = line.find(" E");
    if (line.starts_with("G") && at != std::string::npos) sum += std::atof(line.c_str() + at + 2);
  }
  return sum;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("the comment of a cut move stays once, at its end") {
    auto const lines = adapt_promised(
        "M83\nM104 S205\nG1 X40 E3.6 F1500 ; foot, long side\nG1 Y20 E1.8 (short)\n");
    CHECK(count_with(lines, "; foot, long side") == 1);
    CHECK(count_with(lines, "(short)") == 1);
    CHECK(lines.size() > 6);
  }

  TEST_CASE("the comment of an absorbed retract stays") {
    auto const lines = adapt_promised(hop_with("G1 E-1 ; up and over", "G1 E1 F2000 ; down"));
    CHECK(count_with(lines, "; up and over") == 1);
    CHECK(count_with(lines, "; down") == 1);
    CHECK(count_with(lines, "E-1 ") == 0);
  }

  TEST_CASE("the comment in brackets of an absorbed retract stays") {
    auto const lines = adapt_promised(hop_with("G1 E-1 (up and over)", "G1 E1 F2000 (down)"));
    CHECK(count_with(lines, "(up and over)") == 1);
    CHECK(count_with(lines, "(down)") == 1);
  }

  TEST_CASE("the feed that an absorbed line set stays set") {
    auto const lines = adapt_promised(hop_with("G1 E-1 F2400", "G1 E1 F1800"));
    // The travel after it has no F of its own and goes on at the absorbed line's.
    CHECK(count_with(lines, "F2400") == 1);
  }

  TEST_CASE("each end of a move keeps its own text") {
    auto const lines = adapt_promised(
        "M83\nM104 S205\nG1 X40.0 Y000 E3.6 F1500\ng1 y20.500 x40.0 e1.845\nX0 Y20.5 E3.6\n");
    CHECK(count_with(lines, "X40.0 Y000") == 1);
    CHECK(count_with(lines, "g1 y20.500 x40.0") == 1);
    CHECK(count_with(lines, "X0 Y20.5") == 1);
  }

  TEST_CASE("the first cut of a move carries its feed") {
    auto const lines =
        adapt_promised("M83\nM104 S205\nG1 X40 E3.6 F1500\nG1 Y20 E1.8 F1200\nG1 X0 E3.6\n");
    CHECK(count_with(lines, "F1200") >= 1);
    auto const turn = std::find_if(lines.begin(), lines.end(), [](std::string const& line) {
      return line.find("F1200") != std::string::npos;
    });
    REQUIRE(turn != lines.begin());
    CHECK((turn - 1)->find("X40") != std::string::npos);
  }

  TEST_CASE("rounding of E is carried forward: in steady flow the digits add up") {
    // 0.09 / 0.97 has no end in decimals; each line alone would be 4 · 10⁻⁶ off.
    std::string text = "M83\nM104 S205\n";
    for (int i = 1; i <= 600; ++i) text += "G1 X" + std::to_string(i) + " E0.09 F1500\n";
    auto plant = plant_of(0.05, 1);
    plant.feed.delivered_factor = 0.97;
    auto const lines = lines_of(adapt_text(text, options_for(plant)).text);
    auto const behind = [&](std::string_view word) {
      return std::find_if(lines.begin(), lines.end(), [&](std::string const& line) {
        return line.find(word) != std::string::npos;
      });
    };
    auto const from = behind("X100 "), to = behind("X500 ");
    REQUIRE(from < to);
    double const sum = sum_of_e({from + 1, to + 1});
    CHECK_NEAR(sum, 400 * 0.09 / 0.97, 2e-5 /* mm */);
  }

  TEST_CASE("E keeps at least five digits and more where the file has more") {
    auto const digits = [](std::string const& line) {
      std::size_t const e = line.find(" E"), dot = line.find('.', e);
      std::size_t const end = line.find_first_not_of("0123456789", dot + 1);
      return std::min(end, line.size()) - dot - 1;
    };
    std::size_t coarse = 0, fine = 0;
    for (std::string const& line : adapt_promised("M83\nM104 S205\nG1 X40 E3.6 F1500\n"))
      if (line.find(" E0.") != std::string::npos) coarse = std::max(coarse, digits(line));
    for (std::string const& line : adapt_promised("M83\nM104 S205\nG1 X40 E3.6000001 F1500\n"))
      if (line.find(" E0.") != std::string::npos) fine = std::max(fine, digits(line));
    CHECK(coarse == 5);
    CHECK(fine == 7);
  }

  TEST_CASE("numbers run on when lines are added or absorbed, and begin again at M110") {
    std::string text;
    long n = 0;
    auto const say = [&](std::string const& body) {
      text += "N" + std::to_string(++n) + " " + body + "\n";
    };
    say("M83");
    say("M104 S205");
    say("G1 X40 E3.6 F1500");
    say("G1 E-1 F1800");
    say("G0 X40 Y20 F4800");
    say("G1 E1 F1800");
    say("G1 X0 Y20 E3.6 F1500");
    text += "N100 M110 N100\n";
    n = 100;
    say("G1 X0 Y0 E1.8");
    auto const lines = adapt_promised(text);
    long last = 0;
    for (std::string const& line : lines) {
      if (!line.starts_with("N")) continue;
      CAPTURE(line);
      long const number = std::atol(line.c_str() + 1);
      if (line.find("M110") == std::string::npos) CHECK(number == last + 1);
      last = number;
    }
    CHECK(last > 100);
  }

  TEST_CASE("kept absolute E is led in by the file's own count") {
    std::string const text =
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG1 E2.35 F1800\nM0\nG1 E3.6\nG1 X0 Y20 E7.6 F1500\n";
    auto const lines = adapt_promised(text);
    CHECK(in_front_of(lines, "G1 E2.35 F1800") == "G92 E3.6");
  }

  TEST_CASE("a G92 of the file counts for what comes after it") {
    auto const lines = adapt_promised(
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG92 E0\nG1 Y20 E1.8\nG92 E100\nG1 X0 E103.6\n");
    CHECK(count_with(lines, "G92 E0") == 1);
    CHECK(count_with(lines, "G92 E100") == 1);
  }

  TEST_CASE("a curve that counts E itself is led in by the file's own count") {
    auto const lines = adapt_checked(
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG1 X0 E7.2\nG5 X20 Y20 I0 J3 P0 Q-3 E9\nG1 X60 "
        "E12.6\n");
    CHECK(in_front_of(lines, "G5 X20 Y20 I0 J3 P0 Q-3 E9") == "G92 E7.2");
  }

  TEST_CASE("a line with two moves is led in by the count before the first") {
    auto const lines = adapt_promised(
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG1 X0 E7.2\nG1 Y5 E7.6 G1 X9 E8.4\nG1 X60 E12.6\n");
    CHECK(in_front_of(lines, "G1 Y5 E7.6 G1 X9 E8.4") == "G92 E7.2");
  }

  TEST_CASE("the mark stands after a first line of '%' alone, not after a remark that holds one") {
    auto const open = adapt_checked("%\nM83\nM104 S205\nG1 X40 E3.6 F1500\n");
    REQUIRE(open.size() > 2);
    CHECK(open[0] == "%");
    CHECK(open[1] == marker);
    auto const remark = adapt_checked("; infill 20 %\nM83\nM104 S205\nG1 X40 E3.6 F1500\n");
    CHECK(remark[0] == marker);
    CHECK(remark[1] == "; infill 20 %");
  }

  TEST_CASE("a retract whose remark says that the file was adapted stays, the remark with it") {
    auto const lines = adapt_checked(hop_with("G1 E-1 F1800 ; adapted by meltlag?", "G1 E1 F1800"));
    CHECK(count_with(lines, "G1 E-1 F1800 ; adapted by meltlag?") == 1);
  }

  TEST_CASE("a G92 beside a move counts for what comes after the line") {
    auto const lines = adapt_checked(
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG1 X0 E7.2\nG1 Y5 G92 E100\nG1 X60 E105.4\nG1 X0 "
        "E110.8\n");
    auto const both = std::ranges::find(lines, "G1 Y5 G92 E100");
    REQUIRE(both != lines.end());
    REQUIRE(both + 1 != lines.end());
    CHECK((both + 1)->find(" E10") != std::string::npos);
  }

  TEST_CASE("the count before a line that changes the unit is put back in the old unit") {
    auto const lines = adapt_checked(
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG1 X0 E7.2\nG20 G1 Y1 E.3 F59\nG1 X2 E.5\nG1 X0 E.7\n");
    CHECK(in_front_of(lines, "G20 G1 Y1 E.3 F59") == "G92 E7.2");
  }

  TEST_CASE("a line that names E twice and moves nothing turns nothing") {
    auto const lines = adapt_checked(
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG1 X0 E7.2\nG1 E9 E7.2 F1800\nG1 Y60 E12.6\n");
    CHECK(count_with(lines, "E9 ") == 0);
  }

  TEST_CASE("an absolute count goes on where the unit changes") {
    auto const lines = adapt_promised(
        "M82\nM104 S205\nG1 X40 E3.6 F1500\nG1 X0 E7.2\nG20\nG1 X2 E.5 F59\nG1 X0 E.75\nG21\n"
        "G1 Y40 E22.65 F1500\n");
    CHECK(count_with(lines, "G92") <= 2);
  }

  TEST_CASE("a digit after the line number makes no move of an unreadable line") {
    auto const lines = adapt_promised(
        "N1 M83\nN2 M104 S205\nN3 G1 X40 E3.6 F1500\nN4 2G1 X0 E3.6\nN5 G1 Y40 E3.6\n");
    CHECK(count_with(lines, " 2G1 X0 E3.6") == 1);
  }

  // The text of earlier lines is dropped after some hundred kilobytes; the line break must outlive
  // it.
  TEST_CASE("a last line without line break is cut into lines that end as the file's do") {
    std::string text = "M83\r\nM104 S205\r\n";
    constexpr int lines = sanitized ? 1000 : 20000;  // more than one window
    for (int i = 0; i < lines; ++i) text += i % 2 == 0 ? "G1 X20 E1.8 F1500\r\n" : "G1 X0 E1.8\r\n";
    text += "G1 Y40 E3.6";
    std::string const out = adapt_text(text, options_for(plant_of(0.3, 1))).text;
    std::size_t bare = 0;
    for (std::size_t at = out.find('\n'); at != std::string::npos; at = out.find('\n', at + 1)) {
      if (out[at - 1] != '\r') ++bare;
    }
    CHECK(bare == 0);
    CHECK(out.back() != '\n');
    std::size_t const last = out.rfind('\n');
    CHECK(out.substr(out.rfind('\n', last - 1) + 1, 4) == "G1 Y");
  }
}
