// SPDX-License-Identifier: MIT
#include "meltlag/base/sheet.hpp"

#include <doctest/doctest.h>

#include <array>
#include <string>

#include "support/near.hpp"

using namespace meltlag;

namespace {

constexpr std::array<std::string_view, 1> millimetres{"mm"};
constexpr std::array<std::string_view, 1> grams{"g"};

Sheet parse(std::string_view text) { return Sheet::parse(text, "sheet.csv"); }

double number(Sheet const& sheet, std::size_t row, std::string_view column) {
  return sheet.number(row, column, millimetres).value();
}

// The message of the error that `call` throws.
template <typename Call>
std::string message_of(Call call) {
  try {
    call();
  } catch (Error const& error) {
    return error.what();
  }
  return "nothing was thrown";
}

std::string refusal(std::string_view text) {
  return message_of([&] { (void)parse(text); });
}

std::string number_refusal(std::string_view text) {
  Sheet const sheet = parse(text);
  return message_of([&] { (void)sheet.number(0, "width", millimetres); });
}

}  // namespace

TEST_SUITE("base") {
  TEST_CASE("cells are found by the names of their columns in any order and case") {
    Sheet const sheet = parse("note, Width ,trace\nfirst,1.05,3\n,1.1,\n");
    CHECK(sheet.rows() == 2);
    CHECK(sheet.has("TRACE"));
    CHECK_FALSE(sheet.has("height"));
    CHECK(sheet.text(0, "note") == "first");
    CHECK(sheet.text(1, "note").empty());
    CHECK(sheet.text(1, "height").empty());
    CHECK_NEAR(number(sheet, 0, "width"), 1.05, 0);
    CHECK_FALSE(sheet.number(1, "trace", {}).has_value());
    CHECK(sheet.remarks().empty());
  }

  TEST_CASE("a unit in brackets after a column's name is ignored or taken as its end") {
    Sheet const sheet = parse("width (mm),Mass [g],ruler mm,note (if, any)\n1.2,4.3,30,so\n");
    CHECK_NEAR(number(sheet, 0, "width"), 1.2, 0);
    CHECK_NEAR(sheet.number(0, "mass_g", grams).value(), 4.3, 0);
    CHECK_NEAR(sheet.number(0, "mass", grams).value(), 4.3, 0);
    CHECK_NEAR(number(sheet, 0, "ruler_mm"), 30, 0);
    CHECK(sheet.text(0, "note") == "so");
    CHECK(number_refusal("width (cm)\n1.2\n") ==
          "sheet.csv:1:1: column 'width (cm)' has a unit that does not fit\n"
          "give it in mm, or the number alone");
  }

  TEST_CASE("semicolons and tabs part columns where the header says so, with decimal commas") {
    Sheet const semicolons = parse("trace;width;note\n1;1,05;a, b\n2;-0,3;\n3;2;\n");
    CHECK_NEAR(number(semicolons, 0, "width"), 1.05, 0);
    CHECK_NEAR(number(semicolons, 1, "width"), -0.3, 0);
    CHECK_NEAR(number(semicolons, 1, "width"), -0.3, 0);  // read twice, told once
    CHECK(semicolons.text(0, "note") == "a, b");
    CHECK(semicolons.remarks() == std::vector<std::string>{"semicolons separate the columns",
                                                           "2 decimal commas were read as points"});
    Sheet const tabs = parse("trace\twidth\n\t1,05\n");
    CHECK_NEAR(number(tabs, 0, "width"), 1.05, 0);
    CHECK(tabs.text(0, "trace").empty());
    CHECK(tabs.remarks().front() == "tabs separate the columns");
    CHECK(parse("sep=;\nwidth;trace\n1,5;2\n").place(0, "trace").line == 3);
  }

  TEST_CASE("separators within quotes or brackets do not decide what parts the columns") {
    Sheet const sheet = parse("\"a, b, c\";width (mm, by calipers, each)\n1;2\n");
    CHECK(sheet.columns().size() == 2);
    CHECK_NEAR(number(sheet, 0, "width"), 2, 0);
  }

  TEST_CASE("quoted cells may hold separators, quotes and line breaks, and rows keep their lines") {
    Sheet const sheet =
        parse("note,width\n\"one, two\nthree \"\"so\"\"\",1\n# passed over, \"\n\nlast,\"1,05\"\n");
    CHECK(sheet.rows() == 2);
    CHECK(sheet.text(0, "note") == "one, two\nthree \"so\"");
    CHECK(sheet.place(0, "width").line == 2);
    CHECK(sheet.place(1, "width").line == 6);
    CHECK(sheet.place(1, "width").column == 2);
    CHECK_NEAR(number(sheet, 1, "width"), 1.05, 0);
  }

  TEST_CASE("byte-order mark, CRLF or CR, empty rows and trailing separators do no harm") {
    for (std::string const line_break : {"\n", "\r\n", "\r"}) {
      CAPTURE(line_break);
      std::string text =
          "\xEF\xBB\xBF,,,\n# by hand,,,\n\nwidth,note,,\n1.5,ok,,\n,,,\n\n2.5,,,,,\n3";
      for (std::size_t at = 0; (at = text.find('\n', at)) != std::string::npos;
           at += line_break.size())
        text.replace(at, 1, line_break);
      Sheet const sheet = parse(text);
      CHECK(sheet.columns() == std::vector<std::string>{"width", "note"});
      REQUIRE(sheet.rows() == 3);
      CHECK_NEAR(number(sheet, 0, "width"), 1.5, 0);
      CHECK(sheet.place(1, "width").line == 8);
      CHECK_NEAR(number(sheet, 2, "width"), 3, 0);
    }
  }

  TEST_CASE("fitting units after numbers are passed over and reported, others refused") {
    Sheet const sheet = parse("width;mass_g\n1.05 mm;4,3g\n2MM;\n");
    CHECK_NEAR(number(sheet, 0, "width"), 1.05, 0);
    CHECK_NEAR(number(sheet, 1, "width"), 2, 0);
    CHECK_NEAR(sheet.number(0, "mass_g", grams).value(), 4.3, 0);
    CHECK(sheet.remarks().back() == "3 units after numbers were ignored");
    CHECK(number_refusal("width\n1.05 cm\n") ==
          "sheet.csv:2:1: '1.05 cm' in column width: the unit 'cm' does not fit\n"
          "give it in mm, or the number alone");
  }

  TEST_CASE("numbers may come with typographic minus signs, plus signs and exponents") {
    struct Row {
      std::string_view text;
      double value;
    };
    for (Row const& row : {Row{"\xE2\x88\x92"
                               "0.5",
                               -0.5},
                           {"\xE2\x80\x93"
                            "0.5",
                            -0.5},
                           {"+2", 2},
                           {"1.5e-2", 0.015},
                           {"3E2mm", 300},
                           {".5", 0.5},
                           {"5.", 5},
                           {"\xC2\xA0"
                            "7\xC2\xA0mm\xE2\x80\xAF",
                            7},
                           {"0012", 12}}) {
      CAPTURE(row.text);
      CHECK_NEAR(number(parse("width\n" + std::string(row.text) + "\n"), 0, "width"), row.value, 0);
    }
  }

  TEST_CASE("what is no number is refused with its place and what to do") {
    CHECK(number_refusal("trace,width\n1,wide\n") ==
          "sheet.csv:2:2: 'wide' in column width is not a number\n"
          "write a number, or leave the cell empty");
    for (std::string_view const text :
         {"nan", "inf", "-", "\xE2\x80\x93", "1-2", "1..2x", "--1", "mm", "1.5 -2", "0x10"}) {
      CAPTURE(text);
      std::string const message = number_refusal("width\n" + std::string(text) + "\n");
      CHECK(message.starts_with("sheet.csv:2:1: '" + std::string(text) + "'"));
    }
    CHECK(number_refusal("width\n1e999\n").find("too large") != std::string::npos);
  }

  TEST_CASE("thousands separators are refused, also where they may be a decimal mark") {
    for (std::string_view const text : {"width;note\n1.234,5;\n",
                                        "width\n\"1,234.5\"\n",
                                        "width\n1'234\n",
                                        "width\n1 234\n",
                                        "width\n1\xC2\xA0"
                                        "234\n",
                                        "width;note\n1,234,567;\n"}) {
      CAPTURE(text);
      CHECK(number_refusal(text).find("has thousands separators") != std::string::npos);
    }
    CHECK(number_refusal("width\n\"1,234\"\n").find("may have") != std::string::npos);
    CHECK(number_refusal("width;x\n1.234;2,5\n").find("may have") != std::string::npos);
    CHECK_NEAR(number(parse("width;x\n1,234;2,5\n"), 0, "width"), 1.234, 0);
    CHECK_NEAR(number(parse("width;x\n1.234;2.5\n"), 0, "width"), 1.234, 0);
  }

  TEST_CASE("decimal commas between commas are too many cells, with the remedy") {
    std::string const message = refusal("trace,width\n1,1.05\n2,1,05\n");
    CHECK(message.starts_with("sheet.csv:3: this row has 3 cells, the header names 2\n"));
    CHECK(message.find("separate the columns with semicolons") != std::string::npos);
    CHECK(refusal("trace;width\n1;2;3\n").find("surplus semicolons") != std::string::npos);
  }

  TEST_CASE("missing columns are named, with those that are there and a likely misspelling") {
    Sheet const sheet = parse("trace,widht,note\n");
    constexpr std::array<std::string_view, 3> wanted{"trace", "width", "kind"};
    CHECK(message_of([&] { sheet.require(wanted); }) ==
          "sheet.csv:1: this table has no column 'width', 'kind'; is 'widht' meant to be 'width'?\n"
          "its columns are: trace, widht, note");
    CHECK(message_of([&] { sheet.require({wanted.data(), 1}); }) == "nothing was thrown");
    CHECK(message_of([&] { sheet.require({&wanted[2], 1}); }).find("meant") == std::string::npos);
  }

  TEST_CASE("tables without a header or with a column twice are refused") {
    CHECK(refusal("").starts_with("sheet.csv: this table is empty"));
    CHECK(refusal("\n# nothing\n,,\n").starts_with("sheet.csv: this table is empty"));
    CHECK(refusal("1,2\n3,4\n").starts_with("sheet.csv:1: values stand where the names"));
    CHECK(refusal("width,Width\n").starts_with("sheet.csv:1:2: column 'Width' is given twice"));
  }

  TEST_CASE("quotes that go wrong are refused with the row where they open") {
    CHECK(refusal("a,b\n1,\"2\n3,4\n").starts_with("sheet.csv:2: quotes that open in this row"));
    CHECK(refusal("a,b\n1,2\n\"3,4\n5,\"6\"\n").starts_with("sheet.csv:3: quotes that open"));
    CHECK(refusal("a,b\n1,0.4\" hole\n").starts_with("sheet.csv:2: a quotation mark stands"));
  }

  TEST_CASE("UTF-16, spreadsheets' own files and binary files say how to export") {
    using namespace std::string_view_literals;
    for (std::string_view const text : {"\xFF\xFE"
                                        "a\0,\0"sv,
                                        "\xFE\xFF\0a"sv,
                                        "a\0,\0"sv,
                                        "\0a\0,"sv})
      CHECK(refusal(text).starts_with("sheet.csv: this table is written in UTF-16"));
    CHECK(refusal("PK\x03\x04 rest").starts_with("sheet.csv: this is a spreadsheet's own file"));
    CHECK(refusal("a,b\n1,\0\n"sv).starts_with("sheet.csv:2: this file is binary"));
    CHECK(refusal("PK\x03\x04 rest").find("character set UTF-8") != std::string::npos);
  }

  TEST_CASE("files that cannot be read say so") {
    CHECK(message_of([] {
            (void)Sheet::read("/nowhere/sheet.csv");
          }).starts_with("/nowhere/sheet.csv: cannot read the table: No such file"));
    CHECK(message_of([] { (void)Sheet::read("/"); }).find("directory") != std::string::npos);
  }
}
