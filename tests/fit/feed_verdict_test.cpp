// SPDX-License-Identifier: MIT
#include "meltlag/fit/feed_verdict.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "meltlag/base/error.hpp"
#include "meltlag/fit/feed_choices.hpp"
#include "meltlag/fit/linear_fit.hpp"
#include "meltlag/testpiece/feed.hpp"
#include "motion/support.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::fit;
using namespace meltlag::testpiece;

namespace {

constexpr double density = 1.24;  // g/cm³

struct Hopper {
  double factor = 0.95;
  double scatter = 0.01;  // relative
  double drift = 0;       // relative, over the whole run
  double slip_at_8 = 0;   // relative, at 8 mm³/s
  double scale_g = 0.0001;
};

FeedProgram program() {
  return make_feed_program({.slicer_diameter_mm = 1.75,
                            .limits = motion_test::bench_limits(),
                            .flows_mm3_s = {2, 4, 8},
                            .nozzle_c = 205});
}

// The sheet as a person with this hopper fills it in.
std::string weighed_sheet(Hopper const& hopper, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  std::string sheet = "cup,flow_mm3_s,commanded_mm3,seconds,mass_g,note\n";
  for (Cup const& cup : program().cups) {
    double const share = hopper.factor * (1 + hopper.scatter * normal(random) +
                                          hopper.drift * ((cup.number - 15.5) / 29) -
                                          (cup.flow_mm3_s == 8 ? hopper.slip_at_8 : 0));
    double const mass_g = share * cup.commanded_mm3 * density / 1000;
    sheet += fmt::format("{},{},{},60,{:.6f},\n",
                         cup.number,
                         cup.flow_mm3_s,
                         cup.commanded_mm3,
                         hopper.scale_g * std::round(mass_g / hopper.scale_g));
  }
  return sheet;
}

FeedVerdict judge(std::string const& text, double scale_g = 0.0001) {
  Sheet const sheet = Sheet::parse(text, "cups.csv");
  return judge_feed(read_cups(sheet), sheet, {.density_g_cm3 = density, .scale_g = scale_g});
}

std::string verdict_refusal(std::string const& text) {
  try {
    (void)judge(text);
  } catch (Error const& error) {
    return error.what();
  }
  return "nothing was thrown";
}

std::string first_line(std::string const& text) { return text.substr(0, text.find('\n')); }

constexpr char const* head = "cup,flow_mm3_s,commanded_mm3,mass_g\n";

}  // namespace

TEST_SUITE("fit") {
  TEST_CASE(
      "the sheet comes back with each cup's numbers, in order, rows without mass passed over") {
    std::string sheet = cup_sheet(program());
    CHECK(read_cups(Sheet::parse(sheet, "cups.csv")).empty());
    auto const cups = read_cups(Sheet::parse(
        "mass_g;cup;flow_mm3_s;commanded_mm3\n0,30g;4;4;240\n;3;4;240\n0,29;2;2;120,003\n", "c"));
    REQUIRE(cups.size() == 2);
    CHECK(cups[0].number == 2);
    CHECK_NEAR(cups[0].commanded_mm3, 120.003, 0);
    CHECK_NEAR(cups[1].mass_g, 0.30, 0);
    CHECK(cups[1].row == 0);
  }

  TEST_CASE("the delivered factor and its intervals hold the truth as often as they say") {
    int factor_held = 0, sd_held = 0, drift_held = 0, scatter_held = 0;
    constexpr int runs = 400;
    for (std::uint32_t seed = 1; seed <= runs; ++seed) {
      FeedVerdict const verdict = judge(weighed_sheet({.scatter = 0.02, .drift = 0.03}, seed));
      factor_held += std::abs(verdict.delivered_factor - 0.95) <= verdict.plus_minus ? 1 : 0;
      sd_held +=
          std::abs(verdict.delivered_factor - 0.95) <= 2 * verdict.delivered_factor_sd ? 1 : 0;
      drift_held += std::abs(verdict.drift - 0.03) <= verdict.drift_plus_minus ? 1 : 0;
      scatter_held += verdict.scatter_low <= 0.02 && 0.02 <= verdict.scatter_high ? 1 : 0;
    }
    for (int const held : {factor_held, drift_held, scatter_held}) {
      CHECK(held >= 0.92 * runs);
      CHECK(held <= 0.98 * runs);
    }
    CHECK(sd_held >= 0.92 * runs);
  }

  TEST_CASE("an even feed is called even, drift and flow are found only where they are") {
    int drift_seen = 0, flow_seen = 0, odd = 0;
    constexpr int runs = 1000;
    for (std::uint32_t seed = 1; seed <= runs; ++seed) {
      FeedVerdict const verdict = judge(weighed_sheet({.scatter = 0.008}, seed));
      drift_seen += verdict.drift_test.p < significant_p ? 1 : 0;
      flow_seen += verdict.flow_test.p < significant_p ? 1 : 0;
      odd += static_cast<int>(verdict.odd_cups.size());
      CHECK(verdict.level != FeedLevel::wanders);
    }
    CHECK(drift_seen >= 0.03 * runs);
    CHECK(drift_seen <= 0.08 * runs);
    CHECK(flow_seen >= 0.03 * runs);
    CHECK(flow_seen <= 0.08 * runs);
    CHECK(odd <= 0.003 * 30 * runs);
    CHECK(judge(weighed_sheet({.scatter = 0.008}, 1)).level == FeedLevel::even);
  }

  TEST_CASE("a scale that cannot tell is named, and its ± is not nothing") {
    // 30 cups that all hold the same: on a scale of 0.05 g nothing of the feed is seen.
    std::string const coarse = weighed_sheet({.scatter = 0.002, .scale_g = 0.05}, 3);
    FeedVerdict const verdict = judge(coarse, 0.001);
    CHECK_NEAR(verdict.scale_g, 0.05, 1e-12);  // by the masses, whatever was said
    CHECK(verdict.level == FeedLevel::cannot_tell);
    // Each cup may be off by half a step when it is weighed empty and full: of cups of 0.14 g at
    // the slowest flow, 0.05/√6 g.
    CHECK(verdict.delivered_factor_sd > 0.03);
    CHECK(verdict.plus_minus > 0.06);
    CHECK(std::abs(verdict.delivered_factor - 0.95) < verdict.plus_minus);
    CHECK(verdict_refusal(weighed_sheet({.scatter = 0.002, .scale_g = 0.2}, 3))
              .find("this scale cannot tell: its steps of 0.2 g") != std::string::npos);
    // A scale that is fine enough leaves the verdict as it was.
    FeedVerdict const fine = judge(weighed_sheet({.scatter = 0.01}, 5));
    CHECK(fine.level == FeedLevel::even);
    CHECK(fine.scale_g == 0.0001);
  }

  TEST_CASE("a feed that depends on the flow is not called even, and says up to where it is") {
    FeedVerdict const verdict = judge(weighed_sheet({.scatter = 0.008, .slip_at_8 = 0.16}, 5));
    CHECK(verdict.level == FeedLevel::depends_on_flow);
    REQUIRE(verdict.fed_evenly_mm3_s);
    CHECK_NEAR(*verdict.fed_evenly_mm3_s, 0.95 * 4, 0.05);
    CHECK_FALSE(judge(weighed_sheet({.scatter = 0.008}, 5)).fed_evenly_mm3_s);
  }

  TEST_CASE("the deviation in the profile is made of cups, flows and density, and says so") {
    Sheet const sheet = Sheet::parse(weighed_sheet({.scatter = 0.01}, 5), "cups.csv");
    FeedVerdict const verdict =
        judge_feed(read_cups(sheet),
                   sheet,
                   {.density_g_cm3 = density, .density_sd_g_cm3 = 0.1, .scale_g = 0.0001});
    CHECK_NEAR(verdict.density_sd, verdict.delivered_factor * 0.1 / density, 1e-12);
    CHECK_NEAR(verdict.delivered_factor_sd,
               std::hypot(verdict.cups_sd, verdict.flows_sd, verdict.density_sd),
               1e-12);
    CHECK(verdict.cups_sd < 0.005);
  }

  TEST_CASE("fewer, longer cups cost presses and minutes against ±") {
    FeedOptions options{.slicer_diameter_mm = 1.75,
                        .limits = motion_test::bench_limits(),
                        .flows_mm3_s = {2, 4, 8},
                        .nozzle_c = 205};
    FeedProgram const written = make_feed_program(options);
    auto const choices = cup_choices(written, options, density);
    REQUIRE(choices.size() >= 4);
    CHECK(choices[0].cups == 30);
    CHECK(choices[0].presses == 61);
    CHECK_CLOSE(choices[0].minutes, written.planned_s / 60, 0.02);
    for (CupChoice const& choice : choices) {
      CHECK(choice.cups == 3 * choice.cups_per_flow);
      // Half of the cups, twice as long: the scale's share falls, the feed's stays.
      if (choice.cups_per_flow < choices[0].cups_per_flow)
        CHECK(choice.presses < choices[0].presses);
    }
    // Of the ± itself: cups of one length, the more the better as 1/√n but for Student's t.
    auto const three = std::ranges::find_if(
        choices, [](CupChoice const& c) { return c.cups_per_flow == 3 && c.cup_s == 60; });
    REQUIRE(three != choices.end());
    double const t = t_of_95_percent(5) / t_of_95_percent(26);
    CHECK_CLOSE(
        three->factor_plus_minus / choices[0].factor_plus_minus, t * std::sqrt(10.0 / 3), 1e-9);
  }

  TEST_CASE("three levels: even, borderline, wandering by scatter or by drift") {
    CHECK(judge(weighed_sheet({.scatter = 0.01}, 5)).level == FeedLevel::even);
    CHECK(judge(weighed_sheet({.scatter = 0.03}, 5)).level == FeedLevel::borderline);
    CHECK(judge(weighed_sheet({.scatter = 0.08}, 5)).level == FeedLevel::wanders);
    FeedVerdict const drifting = judge(weighed_sheet({.scatter = 0.01, .drift = -0.08}, 5));
    CHECK(drifting.level == FeedLevel::wanders);
    CHECK_NEAR(drifting.scatter, 0.01, 0.004);
    CHECK_NEAR(drifting.drift, -0.08, 0.015);
  }

  TEST_CASE("a factor that falls with the flow is found and widens the one factor's deviation") {
    FeedVerdict const verdict = judge(weighed_sheet({.slip_at_8 = 0.1}, 3));
    CHECK(verdict.flow_test.p < 1e-6);
    REQUIRE(verdict.flows.size() == 3);
    CHECK_NEAR(verdict.flows[2].delivered_factor, 0.95 * 0.9, 0.01);
    CHECK_NEAR(verdict.flow_spread, 0.095, 0.02);
    CHECK(verdict.delivered_factor_sd > 0.04);
    CHECK_FALSE(verdict.starvation);
    CHECK(verdict.may_starve);  // 80 % of what 8 asks above 4 arrives: slip, until more is run
    CHECK(judge(weighed_sheet({}, 3)).delivered_factor_sd < 0.004);
  }

  TEST_CASE("the scale's steps are distinguished from the feed's own scatter") {
    FeedVerdict const verdict = judge(weighed_sheet({.scatter = 0, .scale_g = 0.01}, 1), 0.01);
    CHECK(verdict.own_scatter < 0.01);
    CHECK_NEAR(verdict.flows[0].scale_scatter, 0.01 / std::sqrt(6.0) / 0.1413, 0.002);
    CHECK(verdict.flows[0].scale_scatter > 3 * verdict.flows[2].scale_scatter);
  }

  TEST_CASE("a slip in one reading is named and left out") {
    std::string text = weighed_sheet({}, 9);
    std::size_t const row = text.find("\n7,") + 1, end = text.find('\n', row);
    std::string line = text.substr(row, end - row);
    std::size_t const mass = line.find(",60,") + 4;
    double const grams = std::stod(line.substr(mass));
    text.replace(row + mass, line.size() - mass - 1, fmt::format("{:.6f}", 1.3 * grams));
    FeedVerdict const verdict = judge(text);
    REQUIRE(verdict.odd_cups.size() == 1);
    CHECK(verdict.odd_cups[0].reading.number == 7);
    CHECK_CLOSE(verdict.odd_cups[0].share / verdict.odd_cups[0].expected, 1.3, 0.04);
    CHECK(verdict.cups == 30);
    CHECK_NEAR(verdict.delivered_factor, 0.95, 0.01);
    CHECK(verdict.level == FeedLevel::even);
  }

  TEST_CASE("sheets that say too little or nonsense are refused with their place") {
    CHECK(verdict_refusal("cup,flow_mm3_s,mass_g\n1,2,3\n")
              .starts_with("cups.csv:1: this table has no column 'commanded_mm3'"));
    std::string const h = head;
    CHECK(verdict_refusal(h + "1,2,120,0.14\n2,2,120,0.14\n") ==
          "cups.csv: 2 cups with a mass are too few to judge the feed\n"
          "weigh 6 or more; ten at each flow make a good test");
    CHECK(first_line(verdict_refusal(h + "1,2,120,heavy\n")) ==
          "cups.csv:2:4: 'heavy' in column mass_g is not a number");
    CHECK(first_line(verdict_refusal(h + "1,2,120,-1\n")) == "cups.csv:2:4: mass_g is -1");
    CHECK(first_line(verdict_refusal(h + "1,,120,1\n")) ==
          "cups.csv:2:2: flow_mm3_s is missing in this row");
    CHECK(first_line(verdict_refusal(h + "1,2,120,1\n1,2,120,1\n")) ==
          "cups.csv:3:1: cup 1 is given twice");
    CHECK(first_line(verdict_refusal(h + "1.5,2,120,1\n")) ==
          "cups.csv:2:1: cup is 1.5, no whole number");
    CHECK(first_line(verdict_refusal(h + "1,2,120,140\n2,2,120,140\n3,2,120,140\n4,2,120,141\n")) ==
          "cups.csv:2:4: cup 1 holds 941 times what was commanded");
  }

  TEST_CASE("readings without any scatter are taken as they are") {
    std::string text = head;
    for (int cup = 1; cup <= 9; ++cup)
      text += fmt::format(
          "{},{},{},{}\n", cup, 2 << (cup % 3), 60 * (2 << (cup % 3)), 0.061234 * (2 << (cup % 3)));
    FeedVerdict const verdict = judge(text);
    CHECK_CLOSE(verdict.delivered_factor, 0.061234 / 60 / density * 1000, 1e-9);
    CHECK(verdict.scatter < 1e-12);
    CHECK(verdict.level == FeedLevel::even);
  }

  TEST_CASE("the most in a burst is what passed below the first fault, E's limit keeps a margin") {
    auto const bursts = [](std::string const& rows) {
      return read_bursts(
          Sheet::parse("burst,direction,flow_mm3_s,e_mm_s,result\n" + rows, "bursts.csv"));
    };
    ScrewLimits const limits =
        screw_limits(bursts("1,reverse,24,10,ok\n2,reverse,48,20,OK\n"
                            "3,reverse,96,40,skips\n4,forward,12,5,good\n"
                            "5,forward,16,6.65,Fine\n6,forward,20,8.3,clicks\n"
                            "7,forward,25,10.4,\n"),
                     0.9);
    CHECK_CLOSE(limits.max_burst_mm3_s.value(), 16 * 0.9, 1e-12);
    // A limit anywhere from 16 to 20 lies above 16 by 4/√3 in root mean square.
    CHECK_CLOSE(limits.max_burst_sd_mm3_s.value(), 4 * 0.9 / std::sqrt(3.0), 1e-12);
    CHECK_CLOSE(limits.max_e_mm_s.value(), 0.9 * 20, 1e-12);
    CHECK(limits.failed_forward_mm3_s == 20);
    CHECK(limits.remarks.empty());

    ScrewLimits const unbroken = screw_limits(bursts("1,forward,12,5,ok\n2,reverse,12,5,ok\n"), 1);
    CHECK(unbroken.max_burst_mm3_s == 12);
    CHECK_FALSE(unbroken.max_burst_sd_mm3_s.has_value());
    CHECK_FALSE(unbroken.max_e_mm_s.has_value());
    CHECK(unbroken.remarks.size() == 2);

    ScrewLimits const odd = screw_limits(bursts("1,forward,12,5,click\n2,forward,15,6,ok\n"), 1);
    CHECK_FALSE(odd.max_burst_mm3_s.has_value());
    CHECK(odd.remarks.size() == 2);
    CHECK_THROWS_AS((void)bursts("1,sideways,12,5,ok\n"), Error);
  }
}
