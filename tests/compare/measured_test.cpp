// SPDX-License-Identifier: MIT
#include "meltlag/compare/measured.hpp"

#include <doctest/doctest.h>

#include <string>

#include "meltlag/base/error.hpp"
#include "meltlag/compare/ticks.hpp"
#include "support/near.hpp"

TEST_SUITE("compare") {
  using namespace meltlag::compare;
  using meltlag::Sheet;

  TEST_CASE("rows by line and by time come as a spreadsheet writes them") {
    auto const rows = read_measured(
        Sheet::parse("width_mm;at_mm;gcode_line;to_line;mass_g;flow_mm3_s;t_s;force_n\r\n"
                     "0,93;12,5;40;;;;;\r\n1,1 mm;;41;;;;;\r\n;;42;48;1,25;;;\r\n;;49;;;4,5;;\r\n"
                     ";;;;;3,5;12,75;\r\n;;;;;;13;-0,4\r\n;;50;;;;;\r\n",
                     "sheet.csv"));
    REQUIRE(rows.size() == 6);
    CHECK(rows[0].kind == MeasuredKind::width);
    CHECK(rows[0].value == 0.93);
    CHECK(rows[0].at_mm == 12.5);
    CHECK_FALSE(rows[1].at_mm.has_value());
    CHECK(rows[2].kind == MeasuredKind::mass);
    CHECK(rows[2].line == 42);
    CHECK(rows[2].to_line == 48);
    CHECK(rows[3].kind == MeasuredKind::line_flow);
    CHECK(rows[4].kind == MeasuredKind::flow);
    CHECK(rows[4].t_s == 12.75);
    CHECK(rows[5].kind == MeasuredKind::force);
    CHECK(rows[5].value == -0.4);  // a load cell's zero wanders
    CHECK(rows[5].place.line == 7);
  }

  TEST_CASE("rows that cannot be meant are refused with their place") {
    struct Bad {
      char const* text;
      char const* says;
    };
    for (Bad const& bad : {Bad{"gcode_line,width_mm,mass_g\n4,1,2\n", "both width_mm and mass_g"},
                           Bad{"gcode_line,t_s,flow_mm3_s\n4,2,3\n", "both a line and a time"},
                           Bad{"gcode_line,t_s,flow_mm3_s\n,,3\n", "names no place"},
                           Bad{"t_s,width_mm\n4,1\n", "width_mm by time"},
                           Bad{"gcode_line,force_n\n4,1\n", "force_n by line"},
                           Bad{"gcode_line,width_mm\n4.5,1\n", "no line of a file"},
                           Bad{"gcode_line,width_mm\n0,1\n", "no line of a file"},
                           Bad{"gcode_line,width_mm\n4,-1\n", "below 0"},
                           Bad{"gcode_line,to_line,mass_g\n9,4,1\n", "before gcode_line"},
                           Bad{"gcode_line,width_mm\n4,\n", "no row holds"},
                           Bad{"line,width\n4,1\n", "gcode_line"},
                           Bad{"gcode_line,width_mm\n4,1 in\n", "in"}}) {
      CAPTURE(bad.text);
      try {
        (void)read_measured(Sheet::parse(bad.text, "sheet.csv"));
        FAIL("nothing was refused");
      } catch (meltlag::Error const& error) {
        CHECK(std::string(error.what()).find(bad.says) != std::string::npos);
        CHECK(std::string(error.what()).find("sheet.csv") != std::string::npos);
      }
    }
  }

  TEST_CASE("ticks are counted, open rows left out") {
    Ticks const ticks = count_ticks(
        Sheet::parse("place,seen\nA1,yes\nA2,X\nA3,no\nA4,\nA5,Yes\nA6,y\n", "ticks.csv"));
    CHECK(ticks.rate.hits == 4);
    CHECK(ticks.rate.of == 5);
    CHECK(ticks.open == 1);
    CHECK_NEAR(ticks.by_chance, 6.0 / 32, 1e-12);  // (5 + 1)/2^5: mathematics
    CHECK_NEAR(coin_chance(8, 10), 56.0 / 1024, 1e-12);
    CHECK_THROWS_AS((void)count_ticks(Sheet::parse("place,seen\nA1,\n", "t")), meltlag::Error);
    CHECK_THROWS_AS((void)count_ticks(Sheet::parse("place,seen\nA1,maybe\n", "t")), meltlag::Error);
  }
}
