// SPDX-License-Identifier: MIT
#include "meltlag/report/causes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

#include "meltlag/report/builds.hpp"
#include "meltlag/report/table.hpp"

using namespace meltlag;
using namespace meltlag::report;

namespace {

bool has(std::string const& text, std::string_view words) {
  std::string flat = text;  // words may stand on two lines
  for (std::size_t at = 0; (at = flat.find("\n  ", at)) != std::string::npos;)
    flat.replace(at, 3, " ");
  return flat.find(words) != std::string::npos;
}

bool fits_the_screen(std::string const& text) {
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);)
    if (shown_width(line) > 80) return false;
  return true;
}

melt::Machine offcuts_auger() {
  return {.barrel = {.sections = {{.length_mm = 18, .bore_mm = 12, .screw_core_mm = 9}},
                     .tip_gap_mm = 1.5,
                     .screw_diameter_mm = 11.8},
          .nozzle = {.diameter_mm = 1.0, .hole_length_mm = 1.5},
          .parts = {{.name = "a printed bracket with a very long name", .n_per_mm = 1500},
                    {.name = "head plate", .n_per_mm = 12000}},
          .material = {.density_g_cm3 = 1.24,
                       .bulk_modulus_mpa = 1000,
                       .consistency_pa_sn = 4260,
                       .flow_index = 0.69}};
}

CausesPage page_of(melt::Machine const& machine) {
  melt::Deviations const deviations{{"mechanics.parts[0].n_per_mm", 150}};
  melt::WhatIf const what{.machine = machine, .measured = {}, .at_flow_mm3_s = 5, .melt_c = {}};
  CausesPage page{.title = "Bench auger",
                  .file = "",
                  .at_flow_mm3_s = 5,
                  .causes = melt::find_causes(machine, deviations, 5)};
  page.now = ChangeRow{melt::as_it_is(what)};
  for (melt::Change const& change : melt::plain_changes(what))
    page.changes.push_back({change, 0.1});
  page.small_changes = melt::small_changes(what);
  page.back_leak = melt::back_leak(machine, 5);
  return page;
}

melt::Finding finding(melt::Reading reading) {
  return {.measured_mm3 = {5, 0.3},
          .parts_mm3 = {4.7, 0.4},
          .least_parts_mm3 = 4.4,
          .difference_mm3 = {0.3, 0.5},
          .reading = reading};
}

compare::Comparison compared(std::vector<double> const& a, std::vector<double> const& b) {
  return compare::compare_builds(a, b);
}

BuildRow build(std::string const& title) {
  return {.title = title,
          .path = "",
          .date = "2026-05-02",
          .notes = "a brace",
          .lag_from = LagFrom::measured,
          .run_on_mm3 = {5, 0.3},
          .lags = {{{1, {0.8, 0.1}}, {5, {0.6, 0.06}}, {10, {0.5, 0.06}}}},
          .prints = {}};
}

}  // namespace

TEST_SUITE("report") {
  TEST_CASE("a value and its deviation end at the same place") {
    CHECK(plus_minus(4.7041, 0.31) == "4.70 ± 0.31");
    CHECK(plus_minus(1213.4, 34.6) == "1213 ± 35");
    CHECK(plus_minus(1213.4, 134.6) == "1210 ± 130");
    CHECK(plus_minus(0.0123456, 0) == "0.0123");
    CHECK(plus_minus(123456, 0) == "123456");
    CHECK(plus_minus(-3.4, 0.058) == "-3.400 ± 0.058");
    CHECK(plus_minus(0, 0) == "0");
  }

  TEST_CASE("long names are cut by characters, not bytes") {
    CHECK(cut_to("abc", 3) == "abc");
    CHECK(cut_to("abcd", 3) == "ab…");
    CHECK(cut_to("äöüß", 3) == "äö…");
    // The telling words stay: what is done, and what tells one name from the other.
    CHECK(cut_keeping_end("a printed bracket with a very long name twice as stiff", 31, 3) ==
          "a printed brack… twice as stiff");
    CHECK(shown_width(
              cut_keeping_end("a printed bracket with a long name twice as stiff", 31, 3)) <= 31);
    CHECK(cut_keeping_end("short", 31, 3) == "short");
    CHECK(cut_apart({"Bench auger, printed bracket", "Bench auger, steel brace"}, 19) ==
          std::vector<std::string>{"…printed bracket", "…steel brace"});
    CHECK(cut_apart({"one", "two"}, 19) == std::vector<std::string>{"one", "two"});
    CHECK(cut_apart({"Bench auger of the first spring", "Cable clips"}, 12) ==
          std::vector<std::string>{"Bench auger…", "Cable clips"});
  }

  TEST_CASE("the bar of shares is as wide as asked and shows every share") {
    for (auto const& shares : {std::vector{0.5, 0.5},
                               std::vector{0.98, 0.01, 0.005, 0.005},
                               std::vector{0.333, 0.333, 0.334},
                               std::vector{1.0}}) {
      std::string const bar = bar_of_shares(shares, 40);
      CHECK(bar.size() == 42);
      for (std::size_t i = 0; i < shares.size(); ++i)
        CHECK(bar.find(static_cast<char>('A' + i)) != std::string::npos);
    }
    CHECK(bar_of_shares({0.5, 0.25, 0.25}, 8) == "|AAAABBCC|");
  }

  TEST_CASE("the page fits the screen, names every cause and says what it cannot say") {
    CausesPage const page = page_of(offcuts_auger());
    std::string const text = to_text(page);
    CHECK(fits_the_screen(text));
    CHECK(has(text, "A a printed bracket with …"));
    CHECK(has(text, "melt, compressed"));
    CHECK(has(text, "head plate twice as stiff"));
    CHECK(has(text, "Leak back past the screw: no figure"));
    CHECK(has(text, "No measured lag to compare with"));
    auto const json = to_json(page);
    CHECK(json["parts"]["causes"].size() == 3);
    CHECK(json["changes"].size() == page.changes.size());
    CHECK_FALSE(json["back_leak"].contains("mm3_s"));
  }

  TEST_CASE("a profile without all its parts is answered with what they need") {
    CausesPage page{.title = "Bench auger", .file = "", .at_flow_mm3_s = 5};
    page.missing = {"[barrel] sections", "[material] use"};
    CHECK(
        has(to_text(page), "The parts say nothing yet without [barrel] sections, [material] use"));
  }

  TEST_CASE("the finding reads as it is: explained, more, less") {
    CHECK(has(in_words(finding(melt::Reading::explained)), "the parts explain what was measured"));
    CHECK(has(in_words(finding(melt::Reading::more)), "backlash, air or moisture"));
    CHECK(has(in_words(finding(melt::Reading::less)), "stiffer than given"));
    melt::Finding blind = finding(melt::Reading::cannot_tell);
    blind.measured_mm3 = {3.4, 0.4};
    blind.difference_mm3 = {1.3, 1.9};
    CHECK(has(in_words(blind), "cannot be told: up to 100 % of it could be missing"));
    CHECK_FALSE(has(in_words(blind), "the parts explain what was measured"));
    melt::Finding unsure = finding(melt::Reading::more);
    unsure.measured_mm3.sd = 0;
    CHECK(has(in_words(unsure), "give run_on_mm3_sd"));
  }

  TEST_CASE(
      "residence times are reported with the places where plastic cooks and purges that are "
      "missing") {
    ResidencePage page{
        .facts = melt::residence_facts({.melt_volume_mm3 = 1000, .flow_index = 1}, 5),
        .longest_residence_s = 300,
        .print = compare::PrintResidence{},
        .melt_volume_mm3 = 1000};
    page.print->out_mm3 = 2000;
    page.print->mean_s = 250;
    page.print->histogram_mm3[4] = 2000;
    page.print->cooked_count = 1;
    page.print->cooked_mm3 = 120;
    page.print->cooked = {{.first_line = 70, .last_line = 81, .longest_s = 400, .mm3 = 120}};
    page.print->purges = {{compare::Event::heating, 11, 0, 0},
                          {compare::Event::pause, 60, 120, 5000}};
    std::string const text = to_text(page);
    CHECK(fits_the_screen(text));
    CHECK(has(text, "Plastic will degrade: 120 mm³"));
    CHECK(has(text, "Lines 70 to 81: 120 mm³, hot for up to 6 min 40 s"));
    CHECK(has(text, "After the heating at line 11 the file has no purge"));
    CHECK_FALSE(has(text, "line 60"));
    CHECK(to_json(page)["print"]["cooked"][0]["first_line"] == 70);
    page.longest_residence_s.reset();
    CHECK(has(to_text(page), "No longest_residence_s"));
  }

  TEST_CASE(
      "verdicts are words, and what cannot be determined says how many more prints it takes") {
    std::vector<double> const a{4.8, 5.3, 4.9}, b{4.7, 5.1, 4.9}, c{1.6, 1.5};
    CHECK(std::string{in_words(compared(a, c).verdict)} == "better");
    CHECK(reason(compared(a, c)).empty());
    CHECK(has(reason(compared(a, b)), "it takes"));
    CHECK(has(reason(compared({5.0}, {1.0})),
              "at least two prints of each build: 1 more print of the old build and 1 more print "
              "of the new"));
    CHECK(has(reason(compared({5.0, 5.0}, {1.0, 1.0})), "do not scatter"));
    CHECK(has(reason(compared({4.0, 5.0, 6.0}, {4.001, 5.0, 6.0})), "even 1000 prints"));
  }

  TEST_CASE("builds are listed one a row, against each other side by side") {
    BuildsPage const builds{.at_flow_mm3_s = 5, .builds = {build("Printed"), build("Braced")}};
    CHECK(fits_the_screen(to_text(builds)));
    CHECK(has(to_text(builds), "Printed         2026-05-02 5.00 ± 0.30"));
    CHECK(to_json(builds)["builds"].size() == 2);
    AgainstPage page{.file = "",
                     .at_flow_mm3_s = 5,
                     .old_build = build("Printed"),
                     .new_build = build("Braced")};
    page.prints.run_on_mm3 = compared({4.8, 5.3, 4.9}, {1.6, 1.5, 1.7});
    page.prints.gap_mm = compared({2.0}, {1.0});
    std::string const text = to_text(page);
    CHECK(fits_the_screen(text));
    CHECK(has(text, "better"));
    CHECK(has(text, "gap: a verdict needs at least two prints"));
    CHECK(to_json(page)["prints"]["run-on"]["verdict"] == "better");
  }
}
