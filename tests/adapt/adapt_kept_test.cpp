// SPDX-License-Identifier: MIT
// What adapting leaves alone.
#include <doctest/doctest.h>

#include <algorithm>

#include "adapt_sample.hpp"
#include "meltlag/base/error.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

adapt::PassOptions usual() { return options_for(plant_of(0.3, 1)); }

std::string with_marker(std::string const& text) { return std::string(marker) + "\n" + text; }

// Where a line stands in the text, or −1.
std::ptrdiff_t place_of(std::vector<std::string> const& lines, std::string_view line) {
  auto const at = std::find(lines.begin(), lines.end(), line);
  return at == lines.end() ? -1 : at - lines.begin();
}
bool has(std::vector<std::string> const& lines, std::string_view line) {
  return place_of(lines, line) >= 0;
}

constexpr std::string_view wall_there = "G1 X40 Y0 E2.7 F1500\nG1 X40 Y20 E1.8\n";
constexpr std::string_view wall_back = "G1 X0 Y20 E3.6 F1500\nG1 X0 Y2 E1.62\n";

// Two walls with these lines in between.
std::string between(std::string_view lines) {
  std::string text = "M83\nM104 S205\nG0 X10 Y0 F4800\n";
  text += wall_there;
  text += lines;
  text += wall_back;
  return text;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("without lag the file stays as it was but for the marker") {
    std::string const part = bench_part();
    for (double const lag_s : {1e-4, 1e-6, 1e-9}) {
      CAPTURE(lag_s);
      CHECK(adapt_text(part, options_for(plant_of(lag_s, 1))).text == with_marker(part));
    }
  }

  TEST_CASE("told to leave everything, only the marker comes in") {
    adapt::PassOptions options = usual();
    options.rewrite = adapt::Rewrite::nothing;
    CHECK(adapt_text(bench_part(), options).text == with_marker(bench_part()));
  }

  TEST_CASE("adapting an adapted file is refused with its place") {
    std::string const once = adapt_text(bench_part(), usual()).text;
    TemporaryFile const file(once);
    Notices notices;
    try {
      adapt::adapt_pass(
          file.path(), usual(), [](std::string_view) {}, notices);
      FAIL("an adapted file was adapted again");
    } catch (Error const& error) {
      CHECK(error.where().line == 1);
      CHECK(std::string(error.what()).find("already") != std::string::npos);
      CHECK_FALSE(error.hint().empty());
    }
  }

  TEST_CASE("a file without extrusion keeps every byte but the marker") {
    std::string const text =
        "; a dry run \t\r\nG21\r\nG90\r\nG0 X10 Y10 F4800\r\n\r\nG1 X20.0 "
        "Y30.00 F1500 ; slowly\r\nM400\r\nG2 X30 Y20 I5 J-5\r\nM84";
    std::string const emitted = adapt_text(text, usual()).text;
    REQUIRE(emitted.size() > text.size());
    CHECK(emitted.substr(emitted.size() - text.size()) == text);
    CHECK(emitted.starts_with(marker));
    CHECK(lines_of(emitted).size() == lines_of(text).size() + 1);
  }

  TEST_CASE("the marker comes after a byte-order mark and a first per cent sign") {
    std::string const text = "\xEF\xBB\xBF%\n" + bench_part();
    std::string const emitted = adapt_text(text, usual()).text;
    CHECK(emitted.starts_with("\xEF\xBB\xBF%\n" + std::string(marker) + "\n"));
  }

  TEST_CASE("retracts between walls are absorbed") {
    auto const lines = adapt_promised(between("G1 E-1 F1800\nG0 X40 Y22 F4800\nG1 E1 F1800\n"));
    CHECK_FALSE(has(lines, "G1 E-1 F1800"));
    CHECK_FALSE(has(lines, "G1 E1 F1800"));
  }

  TEST_CASE("the last retract, and one before a wait or a tool change, stays with its recovery") {
    for (std::string const halt : {"M0", "M600", "T1", "M109 S205"}) {
      CAPTURE(halt);
      auto const lines = adapt_promised(between("G1 E-1.25 F1800\n" + halt + "\nG1 E1.25 F1800\n") +
                                        "G1 E-0.75\n");
      CHECK(has(lines, "G1 E-1.25 F1800"));
      CHECK(has(lines, halt));
      CHECK(has(lines, "G1 E1.25 F1800"));
      CHECK(place_of(lines, "G1 E-1.25 F1800") < place_of(lines, halt));
      CHECK(place_of(lines, halt) < place_of(lines, "G1 E1.25 F1800"));
      CHECK(lines.back() == "G1 E-0.75");
    }
  }

  TEST_CASE("a dwell stays between the same corners") {
    auto const lines = adapt_promised(between("G4 P350\n"));
    std::ptrdiff_t const dwell = place_of(lines, "G4 P350");
    REQUIRE(dwell > 0);
    CHECK(lines[static_cast<std::size_t>(dwell) - 1].find("X40 Y20") != std::string::npos);
  }

  TEST_CASE("a purge keeps its line and its place") {
    auto const lines = adapt_promised(between("G0 X60 Y60 F4800\nG1 E12 F300\nG0 X40 Y20 F4800\n"));
    REQUIRE(has(lines, "G1 E12 F300"));
    std::ptrdiff_t const purge = place_of(lines, "G1 E12 F300");
    CHECK(lines[static_cast<std::size_t>(purge) - 1].starts_with("G0 X60 Y60"));
  }

  TEST_CASE("a purge of absolute E keeps its line with the count put right before it") {
    std::string const text =
        "M82\nM104 S205\nG0 X10 Y0 F4800\nG1 X40 Y0 E2.7 F1500\nG1 X40 Y20 E4.5\n"
        "G0 X60 Y60 F4800\nG1 E16.5 F300\nG0 X40 Y20 F4800\nG1 X0 Y20 E20.1 F1500\nM84\n";
    CHECK(has(adapt_promised(text), "G1 E16.5 F300"));
  }

  TEST_CASE("a restart extra is absorbed with its recovery") {
    auto const lines = adapt_promised(between("G1 E-1 F1800\nG0 X40 Y22 F4800\nG1 E1.2 F1800\n"));
    CHECK_FALSE(has(lines, "G1 E1.2 F1800"));
  }

  TEST_CASE("a long unload stays as written with its recovery") {
    auto const lines = adapt_promised(between("G1 E-40 F1800\nG0 X40 Y22 F4800\nG1 E40 F1800\n"));
    CHECK(has(lines, "G1 E-40 F1800"));
    CHECK(has(lines, "G1 E40 F1800"));
  }

  TEST_CASE("where the nozzle is set cold every line stays") {
    std::string const cold = "M104 S160\n" + bench_part().substr(bench_part().find("G0"));
    CHECK(adapt_text("M83\n" + cold, usual()).text == with_marker("M83\n" + cold));
    auto const lines = lines_of(
        adapt_text(between("M104 S20\nG1 X30 Y10 E1.27 F1500\nM104 S205\n"), usual()).text);
    CHECK(has(lines, "G1 X30 Y10 E1.27 F1500"));
  }

  TEST_CASE("a nozzle above a lower border is warm") {
    adapt::PassOptions options = usual();
    options.cold_below_c = 150;
    std::string const part = "M83\nM104 S160\n" + bench_part().substr(bench_part().find("G0"));
    CHECK(adapt_text(part, options).text != with_marker(part));
  }

  TEST_CASE("no word of an unknown code is lost or moved") {
    std::string const odd = "M117 Rinse the drain\nSET_LAMP on=1\nG29.9 Q1\nM106 S80 ; fan\n";
    auto const lines = adapt_promised(between(odd));
    std::ptrdiff_t const first = place_of(lines, "M117 Rinse the drain");
    REQUIRE(first > 0);
    for (std::size_t i = 0; i < 4; ++i)
      CHECK(lines[static_cast<std::size_t>(first) + i] == lines_of(odd)[i]);
  }
}
