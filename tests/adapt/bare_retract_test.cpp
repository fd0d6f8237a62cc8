// SPDX-License-Identifier: MIT
// Bare G10 and G11: written anew in pairs, and only where the file says how far they go.
#include <doctest/doctest.h>

#include <algorithm>

#include "adapt_sample.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

std::ptrdiff_t count_of(std::vector<std::string> const& lines, std::string_view beginning) {
  return std::ranges::count_if(
      lines, [&](std::string const& line) { return line.starts_with(beginning); });
}

// Two walls, a hop between them, and another pair of walls and hop behind.
std::string walls(std::string_view head, std::string_view back, std::string_view forth) {
  std::string text(head);
  text += "M83\nM104 S205\nG0 X10 Y0 F4800\n";
  for (int i = 0; i < 2; ++i) {
    text += "G1 X40 Y0 E2.7 F1500\nG1 X40 Y20 E1.8\n";
    (text += back) += "\nG0 X20 Y30 F4800\n";
    (text += forth) += "\nG1 X0 Y20 E2.0 F1500\nG1 X0 Y2 E1.62\n";
  }
  return text;
}

double misplaced(std::string const& text) {
  return 100 * judge_adapted(text, plant_of(0.3, 1)).after.misplaced_share();
}

constexpr std::string_view told = "M207 S1.2 F1500\n";

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("a pair of told G10 and G11 is worth what the same moves of E alone are") {
    std::string const bare = walls(told, "G10 ; up", "G11 ; down");
    auto const lines = adapt_promised(bare);
    CHECK(count_of(lines, "G10") == 0);
    CHECK(count_of(lines, "G11") == 0);
    for (std::string_view const comment : {"; up", "; down"}) {
      CHECK(std::ranges::count_if(lines, [&](std::string const& line) {
              return line.starts_with("G1 E") && line.find(comment) != std::string::npos;
            }) == 2);
    }
    CHECK_NEAR(misplaced(bare), misplaced(walls("", "G1 E-1.2 F1500", "G1 E1.2 F1500")), 1e-3);
  }

  TEST_CASE("inches, absolute E, mm³ of E and a share of the speed change nothing in that") {
    double const expected = misplaced(walls(told, "G10", "G11"));
    // The speed of M207 is that of the screw: M220 holds for moves alone.
    std::string const slow = walls("M207 S1.2 F1500\nM220 S50\n", "G10", "G11");
    auto const lines = adapt_promised(slow);
    CHECK(count_of(lines, "G10") == 0);
    double const slow_by_e = misplaced(walls("M220 S50\n", "G1 E-1.2 F3000", "G1 E1.2 F3000"));
    CHECK_NEAR(misplaced(slow), slow_by_e, 1e-2);

    PartWriter inches({.unit = Unit::inch, .e = ECount::absolute});
    inches.line("M207 S0.0472440945 F59.0551181");
    inches.travel(10, 0);
    for (int i = 0; i < 2; ++i) {
      inches.print(40, 0, 25);
      inches.print(40, 20, 25);
      inches.line("G10");
      inches.travel(20, 30);
      inches.line("G11");
      inches.print(0, 20, 25);
      inches.print(0, 2, 25);
    }
    auto const in_inches = adapt_promised(inches.text());
    CHECK(count_of(in_inches, "G10") == 0);
    CHECK(count_of(in_inches, "G1 E") == 4);
    CHECK_NEAR(misplaced(inches.text()), expected, 0.5);
  }

  TEST_CASE("untold, lifting or with a wait between them they stay, both of them") {
    for (std::string_view const head : {"", "M207 S1.2 F1500 Z0.4\n"}) {
      auto const lines = adapt_promised(walls(head, "G10", "G11"));
      CHECK(count_of(lines, "G10") == 2);
      CHECK(count_of(lines, "G11") == 2);
    }
    for (std::string_view const between : {"M400\nM109 S205", "T0"}) {
      std::string const back = "G10\n" + std::string(between);
      auto const lines = adapt_promised(walls(told, back, "G11"));
      CHECK(count_of(lines, "G10") == 2);
      CHECK(count_of(lines, "G11") == 2);
    }
  }

  TEST_CASE("what the printer would now take for a retract goes with the pair") {
    auto const lines = adapt_promised(walls(told, "G10\nG10 ; once more", "G11\nG11"));
    CHECK(count_of(lines, "G10") == 0);
    CHECK(count_of(lines, "; once more") == 2);
    CHECK(count_of(lines, "G11") == 2);  // does nothing, as before
    auto const without_partner = adapt_promised(walls(told, "G10", "G4 P0"));
    CHECK(count_of(without_partner, "G10") == 0);
  }

  TEST_CASE("where their flow is set right alone, and where stops are absorbed, pairs stay pairs") {
    auto options = options_for(plant_of(0.3, 1));
    options.plant.feed.delivered_factor = 0.8;
    options.rewrite = adapt::Rewrite::flow_alone;
    auto const lines = adapt_promised(walls(told, "G10", "G11"), options);
    CHECK(count_of(lines, "G1 E-1.5 F1500") == 2);
    CHECK(count_of(lines, "G1 E1.5 F1500") == 2);

    options.rewrite = adapt::Rewrite::schedule;
    options.stops = adapt::StopPolicy::absorbed;
    auto const absorbed = adapt_promised(walls(told, "G10", "G11"), options);
    CHECK(count_of(absorbed, "G10") == 0);
    auto const untold = adapt_promised(walls("", "G10", "G11"), options);
    CHECK(count_of(untold, "G10") == 2);
    CHECK(count_of(untold, "G11") == 2);
  }

  TEST_CASE("under numbers and checksums a pair is written anew like any line") {
    std::string text = walls(told, "G10", "G11"), numbered;
    std::uint64_t number = 1;
    for (std::string const& line : lines_of(text)) {
      gcode::append_numbered(numbered, number++, line, gcode::Checksum::append);
      numbered += '\n';
    }
    auto const lines = adapt_promised(numbered);
    CHECK(std::ranges::none_of(
        lines, [](std::string const& line) { return line.find("G10") != std::string::npos; }));
  }
}
