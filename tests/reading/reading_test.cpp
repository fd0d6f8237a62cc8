// SPDX-License-Identifier: MIT
// Sheets as people fill them in.
#include "meltlag/reading/reading.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "support/near.hpp"

namespace meltlag::reading {
namespace {

// Two layers of a wall, 60 mm long.
constexpr char wall[] =
    "G1 Z0.3 F600\n"
    "G1 X60 Y0 E4 F900\n"
    "G1 X0 Y0 Z0.6 F900\n"
    "G1 X60 Y0 E8 F900\n"
    "; a comment\n"
    "G1 E7 F1800\n";

PrintedPath path() {
  Notices notices;
  return read_path(gcode::LineSource::from_text(wall, "wall.gcode"),
                   {.slicer_diameter_mm = 1.75,
                    .limits = {.acceleration_mm_s2 = 800,
                               .travel_acceleration_mm_s2 = 800,
                               .corner_jump_mm_s = {10, 10, 0.4, 5},
                               .max_speed_mm_s = {300, 300, 20, 60},
                               .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}}},
                   notices);
}

std::string const header = "trace,ruler_mm,kind,value,expected,lines,at_mm,note\n";

std::vector<Reading> read(std::string const& text) {
  return read_readings(Sheet::parse(text, "mine.csv"), path());
}

// What is refused, in full.
Error refusal(std::string const& text) {
  try {
    read(text);
  } catch (Error const& error) {
    return error;
  }
  FAIL("accepted: " << text);
  return Error("", {}, "");
}

// Refused at that line and column, saying `words`, and what to do.
void check_refused(std::string const& text, Place const& where, std::string const& words) {
  CAPTURE(text);
  Error const error = refusal(text);
  CAPTURE(error.what());
  CHECK(error.where().file == "mine.csv");
  CHECK(error.where().line == where.line);
  CHECK(error.where().column == where.column);
  CHECK(std::string{error.what()}.find(words) != std::string::npos);
  CHECK_FALSE(error.hint().empty());
}

TEST_SUITE("reading") {
  TEST_CASE("a sheet keeps rows, places and order, and passes over rows without a value") {
    auto const readings = read(header +
                               "4,20,width,1.02,1.00,2 4,20.000,small step\n"
                               "5,30,width,,1.00,2,30.000,not measured\n"
                               "4,40,place_at_width,44.5,,4,40,locked at 0.66 mm: where?\n"
                               "fence,0,mass,12.4,,,,all of it\n");
    REQUIRE(readings.size() == 3);
    CHECK(readings[0].row == 1);
    CHECK(readings[0].trace == "4");
    CHECK(readings[0].kind == ReadingKind::width);
    CHECK(*readings[0].value == 1.02);
    CHECK(*readings[0].expected == 1.0);
    CHECK(readings[0].lines == std::vector<std::int64_t>{2, 4});
    CHECK(readings[0].at_mm == std::vector<double>{20, 20});
    CHECK(readings[1].row == 3);
    CHECK(readings[1].locked_mm == 0.66);
    CHECK(readings[1].place.line == 4);
    CHECK(readings[2].kind == ReadingKind::mass);
    CHECK(readings[2].lines.empty());
  }

  TEST_CASE("a sheet that was written is read back the same") {
    Reading one;
    one.trace = "4";
    one.ruler_mm = 20;
    one.expected = 1.044;
    one.lines = {2, 4};
    one.at_mm = {20, 21.5};
    one.note = "small step: fast";
    std::string text = write_sheet(std::vector<Reading>{one});
    CHECK(text == "row," + header + "1,4,20,width,,1.04,2 4,20.000 21.500,small step: fast\n");
    CHECK(read(text).empty());
    text.replace(text.find(",,"), 2, ",0.97,");
    auto const back = read(text);
    REQUIRE(back.size() == 1);
    CHECK(*back[0].value == 0.97);
    CHECK(back[0].lines == one.lines);
    CHECK(back[0].at_mm == one.at_mm);
    CHECK(back[0].note == one.note);
  }

  TEST_CASE("a row is called by the number that the map gives it, however the sheet is sorted") {
    auto const sorted = read("row," + header +
                             "7,4,30,width,1.1,,2,20,\n"
                             "2,4,20,width,1.0,,2,20,\n");
    REQUIRE(sorted.size() == 2);
    CHECK(sorted[0].row == 7);
    CHECK(sorted[1].row == 2);
    auto const counted = read(header + "4,30,width,,,2,20,\n4,20,width,1.0,,2,20,\n");
    REQUIRE(counted.size() == 1);
    CHECK(counted[0].row == 2);
    CHECK(std::string{refusal("row," + header + "0,4,30,width,1.1,,2,20,\n").what()}.find(
              "no number of the map") != std::string::npos);
    std::vector<Reading> const all = read_all_rows(
        Sheet::parse(header + "4,30,width,,,2,20,\n4,20,width,1.0,,2,20,\n", "mine.csv"), path());
    REQUIRE(all.size() == 2);
    CHECK_FALSE(all[0].value);
    CHECK(all[0].lines == std::vector<std::int64_t>{2});
  }

  TEST_CASE("semicolons, decimal commas and units in cells are accepted and reported") {
    Sheet const sheet = Sheet::parse(
        "trace;ruler_mm;kind;value;expected;lines;at_mm;note\n"
        "4;20;width;1,02 mm;1,00;2 4;20,5 21,5;\n"
        "4;30;place_at_width;38,5;;4;30,000;locked at 0,66 mm\n",
        "mine.csv");
    auto const readings = read_readings(sheet, path());
    REQUIRE(readings.size() == 2);
    CHECK(*readings[0].value == 1.02);
    CHECK(readings[0].at_mm == std::vector<double>{20.5, 21.5});
    CHECK(readings[1].locked_mm == 0.66);
    CHECK(sheet.remarks() == std::vector<std::string>{"semicolons separate the columns",
                                                      "3 decimal commas were read as points",
                                                      "1 unit after a number was ignored"});
  }

  TEST_CASE("missing columns are named with those that are there") {
    Error const error = refusal("trace,ruler_mm,kind,width,lines\n4,20,width,1,2\n");
    std::string const what = error.what();
    CHECK(what.find("'value', 'at_mm'") != std::string::npos);
    CHECK(error.where().line == 1);
    CHECK(error.hint().find("trace, ruler_mm, kind, width, lines") != std::string::npos);
  }

  TEST_CASE("text and foreign units in number cells are refused where they stand") {
    check_refused(header + "4,20,width,about 1,,2,20,\n", {.line = 2, .column = 4}, "about 1");
    check_refused(header + "4,20,width,0.04 in,,2,20,\n", {.line = 2, .column = 4}, "'in'");
    check_refused(header + "4,20,mass,12 mm,,2,20,\n", {.line = 2, .column = 4}, "'mm'");
    check_refused(header + "4,left,width,1,,2,20,\n", {.line = 2, .column = 2}, "left");
    check_refused(header + "4,20,width,1,wide,2,20,\n", {.line = 2, .column = 5}, "wide");
    check_refused(header + "4,20,width,1,,two,20,\n", {.line = 2, .column = 6}, "'two'");
    check_refused(header + "4,20,width,1,,2.5,20,\n", {.line = 2, .column = 6}, "2.5");
    check_refused(header + "4,20,width,1,,2,nan,\n", {.line = 2, .column = 7}, "nan");
    check_refused(header + "4,20,width,-1,,2,20,\n", {.line = 2, .column = 4}, "negative");
    check_refused(header + "4,20,breadth,1,,2,20,\n", {.line = 2, .column = 3}, "breadth");
    check_refused(
        header + "\n4,20,width,1,,2,20,\n5,9,width,wet,,2,9,\n", {.line = 4, .column = 4}, "wet");
  }

  TEST_CASE("lines and places that the file does not have are refused where they stand") {
    check_refused(header + "4,20,width,1,,7,20,\n", {.line = 2, .column = 6}, "has 6 lines");
    check_refused(header + "4,20,width,1,,2 99,20,\n", {.line = 2, .column = 6}, "line 99");
    check_refused(header + "4,20,width,1,,-2,20,\n", {.line = 2, .column = 6}, "line -2");
    check_refused(header + "4,20,width,1,,5,20,\n", {.line = 2, .column = 6}, "moves nothing");
    check_refused(
        header + "4,20,width,1,,6,0,\n", {.line = 2, .column = 6}, "line 6 of wall.gcode");
    check_refused(header + "4,20,width,1,,,20,\n", {.line = 2, .column = 6}, "no line");
    check_refused(header + "4,20,width,1,,2,61,\n", {.line = 2, .column = 7}, "60.0");
    check_refused(header + "4,20,width,1,,2,-1,\n", {.line = 2, .column = 7}, "-1 mm");
    check_refused(header + "4,20,width,1,,2 4,1 2 3,\n", {.line = 2, .column = 7}, "3 places");
    check_refused(header + "4,20,place_at_width,40,,2,20,calipers locked\n",
                  {.line = 2, .column = 8},
                  "locked");
  }

  TEST_CASE("the layer height is what the lines of one reading step up by") {
    PrintedPath const printed = path();
    auto const readings = read(header + "4,20,width,1,,2 4,20,\n");
    REQUIRE(layer_height_mm(printed, readings).has_value());
    CHECK_NEAR(*layer_height_mm(printed, readings), 0.3, 1e-12);
    CHECK_FALSE(layer_height_mm(printed, read(header + "fence,0,mass,12,,,,\n")).has_value());
  }
}

}  // namespace
}  // namespace meltlag::reading
