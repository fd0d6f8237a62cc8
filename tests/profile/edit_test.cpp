// SPDX-License-Identifier: MIT
#include "meltlag/profile/edit.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"

using namespace meltlag;
using profile::with_value;

TEST_SUITE("profile") {
  TEST_CASE("a value is replaced where it stands and nothing else changes") {
    struct Row {
      char const* before;
      char const* after;
    };
    for (Row const& row : {
             Row{"[lag] # ä\nrun_on_mm3 = 5.0# mm³\n", "[lag] # ä\nrun_on_mm3 = 4.2# mm³\n"},
             Row{"[lag]\r\n\trun_on_mm3=5  # x\r\n", "[lag]\r\n\trun_on_mm3=4.2  # x\r\n"},
             Row{"\xEF\xBB\xBF[lag]\nrun_on_mm3 = 5", "\xEF\xBB\xBF[lag]\nrun_on_mm3 = 4.2"},
             Row{"lag = { at_c = 5, run_on_mm3 = 5 } # ä",
                 "lag = { at_c = 5, run_on_mm3 = 4.2 } # ä"},
             Row{"lag.run_on_mm3 = 5\n", "lag.run_on_mm3 = 4.2\n"},
             Row{"title = \"[lag] ä\"\n[feed]\nrun_on_mm3 = 1\n[lag]\n\"run_on_mm3\" = \"x\"\n",
                 "title = \"[lag] ä\"\n[feed]\nrun_on_mm3 = 1\n[lag]\n\"run_on_mm3\" = 4.2\n"},
             Row{"[lag]\nrun_on_mm3 = [\n 1, # one\n]\nat_c = 1\n",
                 "[lag]\nrun_on_mm3 = 4.2\nat_c = 1\n"},
         }) {
      CAPTURE(std::string{row.before});
      CHECK(with_value(row.before, "lag", "run_on_mm3", "4.2") == row.after);
    }
  }

  TEST_CASE(
      "a missing key goes below its commented line, else below the last key, else to a new "
      "section") {
    auto const set = [](std::string_view text) { return with_value(text, "lag", "at_c", "200"); };
    CHECK(set("[lag]\n#at_c = 5 # °C\nrun_on_mm3 = 5\n") ==
          "[lag]\n#at_c = 5 # °C\nat_c = 200\nrun_on_mm3 = 5\n");
    CHECK(set("[lag]\nrun_on_mm3 = 5 # x\n\n[feed]\n# at_c = 1\n") ==
          "[lag]\nrun_on_mm3 = 5 # x\nat_c = 200\n\n[feed]\n# at_c = 1\n");
    CHECK(set("[lag]\n[feed]\n") == "[lag]\nat_c = 200\n[feed]\n");
    CHECK(set("[lag]") == "[lag]\nat_c = 200\n");
    CHECK(set("[feed]\r\nbacklash_mm = 0\r\n") ==
          "[feed]\r\nbacklash_mm = 0\r\n\r\n[lag]\r\nat_c = 200\r\n");
    CHECK(set("") == "[lag]\nat_c = 200\n");
    CHECK(set("lag = {}\n") == "lag = { at_c = 200 }\n");
    CHECK(set("lag = { x = 1 }\n") == "lag = { x = 1, at_c = 200 }\n");
    CHECK(set("lag.x = 1\n[feed]\n") == "lag.x = 1\nlag.at_c = 200\n[feed]\n");
    CHECK(set("[lag.inner]\nx = 1\n") == "[lag.inner]\nx = 1\n[lag]\nat_c = 200\n");
    CHECK(set("[lag]\nlist = [\n 1,\n]\n") == "[lag]\nlist = [\n 1,\n]\nat_c = 200\n");
  }

  TEST_CASE("a key of the top level is put before the sections") {
    CHECK(with_value("[lag]\nx = 1\n", "", "title", "\"a\"") == "title = \"a\"\n[lag]\nx = 1\n");
    CHECK(with_value("base = \"b\"\n[lag]\n", "", "title", "\"a\"") ==
          "base = \"b\"\ntitle = \"a\"\n[lag]\n");
    CHECK(with_value("title = \"b\" # x\n", "", "title", "\"a\"") == "title = \"a\" # x\n");
  }

  TEST_CASE("what is no value, or no TOML to begin with, is an error and not a broken file") {
    CHECK_THROWS_AS((void)with_value("[lag]\n", "lag", "at_c", "two hundred"), Error);
    CHECK_THROWS_AS((void)with_value("[lag]\n", "lag", "at_c", "1\n[feed]"), Error);
    CHECK_THROWS_AS((void)with_value("[lag\n", "lag", "at_c", "1"), Error);
    CHECK_THROWS_AS((void)with_value("[[lag]]\nx = 1\n", "lag", "at_c", "1"), Error);
  }

  TEST_CASE("the shipped profile keeps every byte but the value's") {
    std::string const path = std::string{MELTLAG_SOURCE_DIR} + "/profiles/bench-auger-printed.toml";
    std::ifstream file(path, std::ios::binary);
    std::string const before{std::istreambuf_iterator<char>(file), {}};
    std::string const after = with_value(before, "lag", "run_on_mm3", "6.25");
    profile::LoadOptions const options{.share_dir = std::string{MELTLAG_SOURCE_DIR} + "/profiles"};
    CHECK(profile::parse(after, "p.toml", options).measured_lag->run_on_mm3 == 6.25);
    CHECK(with_value(after, "lag", "run_on_mm3", "5.0") == before);
  }

  TEST_CASE("a written number reads back as the same double") {
    CHECK(profile::toml_number(5) == "5.0");
    CHECK(profile::toml_number(0.1) == "0.1");
    CHECK(profile::toml_number(-3e-9) == "-3e-09");
    CHECK(profile::toml_number(4.83219, 3) == "4.83");
    CHECK(profile::toml_number(1234.5, 2) == "1200.0");
    CHECK(profile::toml_number(0.0, 3) == "0.0");
    std::mt19937_64 random(7);
    std::uniform_real_distribution<double> exponent(-30, 30);
    for (int i = 0; i < 200; ++i) {
      double const value = std::pow(10, exponent(random));
      CAPTURE(value);
      std::string const text =
          "[lag]\ncreep_s = " + profile::toml_number(value) + "\n" + std::string{machine_section};
      CHECK(profile::parse(text, "p.toml").creep_s == value);
    }
  }

  TEST_CASE("a quoted text reads back as the same text") {
    std::string const title = "a \"b\" \\ c\td\n\x7f ä";
    std::string const text =
        "title = " + profile::toml_quoted(title) + "\n" + std::string{machine_section};
    CHECK(profile::parse(text, "p.toml").title == title);
  }

  TEST_CASE("an entry goes after the last of its array, comments and line breaks stay") {
    auto const add = [](std::string_view text) {
      return profile::with_entry(
          text, "mechanics", "parts", {{"name", "\"frame\""}, {"n_per_mm", "90.0"}});
    };
    std::string const entry = R"({ name = "frame", n_per_mm = 90.0 })";
    CHECK(
        add("[mechanics]\nparts = [ # all\n  { name = \"a\", n_per_mm = 1 }, # ä\n  # end\n]\n") ==
        "[mechanics]\nparts = [ # all\n  { name = \"a\", n_per_mm = 1 }, # ä\n  " + entry +
            ",\n  # end\n]\n");
    CHECK(add("[mechanics]\r\nparts = [\r\n\t{ name = \"a\" } # x\r\n]\r\n") ==
          "[mechanics]\r\nparts = [\r\n\t{ name = \"a\" }, # x\r\n\t" + entry + "\r\n]\r\n");
    CHECK(add("mechanics.parts = [{ name = \"a\" }] # x") ==
          "mechanics.parts = [{ name = \"a\" }, " + entry + "] # x");
    CHECK(add("[mechanics]\nparts = [{ name = \"a\" },\n { name = \"b\" }]\n") ==
          "[mechanics]\nparts = [{ name = \"a\" },\n { name = \"b\" }, " + entry + "]\n");
    CHECK(add("[mechanics]\nparts = [] # none\n") ==
          "[mechanics]\nparts = [" + entry + "] # none\n");
    CHECK(add("") == "[mechanics]\nparts = [" + entry + "]\n");
    CHECK(add("[[mechanics.parts]]\nname = \"a\"\n[lag]\n") ==
          "[[mechanics.parts]]\nname = \"a\"\n[lag]\n\n[[mechanics.parts]]\nname = "
          "\"frame\"\nn_per_mm = 90.0\n");
  }

  TEST_CASE("an entry of the same name is replaced") {
    auto const add = [](std::string_view text) {
      return profile::with_entry(
          text, "mechanics", "parts", {{"name", "\"b\""}, {"n_per_mm", "9"}});
    };
    CHECK(add("[mechanics]\nparts = [{ name = \"a\" }, { n_per_mm = 1, name = 'b' } ] # x\n") ==
          "[mechanics]\nparts = [{ name = \"a\" }, { name = \"b\", n_per_mm = 9 } ] # x\n");
    CHECK(std::string(error_of([&] { (void)add("[[mechanics.parts]]\nname = \"b\"\n"); }).what())
              .starts_with("profile:1: \"b\" is there already"));
  }
}
