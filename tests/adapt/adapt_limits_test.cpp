// SPDX-License-Identifier: MIT
// Limits of the screw at places where two kinds of moves meet.
#include <doctest/doctest.h>

#include "adapt_sample.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

void check_promises(std::string const& text, melt::PlantParameters const& plant) {
  CAPTURE(text);
  std::string const emitted = adapt_text(text, options_for(plant)).text;
  auto const broken = broken_promises(text, emitted, plant);
  CHECK_MESSAGE(broken.empty(), all_of(broken));
  judge::JudgeOptions figures = bench_options();
  figures.plant = plant;
  auto const own = judge_texts(text, emitted, figures);
  CHECK_FALSE(own.parting.has_value());
  CHECK_MESSAGE(own.violations.empty(), all_of(own.violations));
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("an E jump that the file lowers holds from the very next corner on") {
    for (auto const& plant : {plant_of(0.3, 1), plant_of(1, 0.5)}) {
      check_promises(
          "M83\nG1 X-6.0798 Y13.1842 E0.00450\nM205 E1\nG1 X-66.4175 Y46.0241 E1.80000\n", plant);
      check_promises("M83\nG1 X23.4741 Y-17.3437 E1.80000\nM205 E2\nG0 X-3.2809 Y11.4682 F4800\n",
                     plant);
    }
  }

  TEST_CASE("E comes to rest in time for a travel that stays as written") {
    for (double const run_on_mm3 : {1.5, 3.0, 10.0}) {
      auto plant = plant_of(0.3, 0.5);
      plant.law.run_on_mm3 = run_on_mm3;
      check_promises(
          "M83\nG1 X29.9809 Y6.3148 E0.02700\nG1 X30.3170 Y6.4124 E0.02700\n"
          "G0 X47.4542 Y24.5148\nM109 S205\n",
          plant);
      check_promises(
          "M83\nG1 X-23.9821 Y16.7422 E0.00450\nG1 X-22.5239 Y11.9595 E0.45000\n"
          "G0 X-17.8179 Y15.3506\nM109 S205\n",
          plant);
    }
  }

  TEST_CASE("a short bead beside an E-only move that stays keeps the corner as fast as it was") {
    auto const plant = plant_of(0.3, 0.5);
    check_promises(
        "M83\nG0 X10 Y10 F4800\nG1 X-9.9668 Y11.1523 E1.80000\nG1 X-26.2113 Y-0.5145 "
        "E1.80000\nG4 P100\nG1 X-25.9311 Y-0.4074 E0.02700\nG1 E-3.00000 F1800\n",
        plant);
    check_promises(
        "M83\nG1 X1.0059 Y19.9747 E1.80000\nT1\nG1 E-0.50000 F1800\nG1 X0.7088 Y20.0162 "
        "E0.02700\n",
        plant_of(1, 0.5));
  }

  TEST_CASE("the corner after E alone that stays is planned with the rate that was chosen") {
    // As sliced the screw holds the head back there; fed faster the corner is taken faster.
    check_promises(
        "M83\nM204 P500 T1000\nM205 X10 Y10\nG0 X60 Y55 F9000\nG1 E-8.00000 F3600\n"
        "G0 X59.923 Y55.221 F9000\nG1 E7.80000 F1080\nG1 X60.495 Y54.649 E0.07400 F2400\n"
        "G1 X60.936 Y54.467 E0.04370\nG1 X63.384 Y54.467 E0.22410\n"
        "G1 X63.825 Y54.649 E0.04370\nG1 X80 Y54.649 E1.50000\n",
        plant_of(0.3, 1));
  }

  TEST_CASE("the corner before a retract goes by the jumps that were set in front of the retract") {
    // A slicer sets travels' limits between the last bead and the retract.
    std::string const square =
        "G1 X100 Y99.8 E0.00237 F1800\nG1 X120 E0.26335\nG1 X120.119 Y99.839 E0.00165\n"
        "G1 X120.2 Y100 E0.00237\nG1 Y120 E0.26335\nG1 X120.161 Y120.119 E0.00165\n"
        "G1 X120 Y120.2 E0.00237\nG1 X100 E0.26335\nG1 X99.881 Y120.161 E0.00165\n"
        "G1 X99.8 Y120 E0.00237\nG1 Y100 E0.26335\nG1 X99.839 Y99.881 E0.00165\n";
    check_promises("M83\nM204 S500\nM205 X20 Y20\nG0 X99.839 Y99.881 F9000\n" + square + square +
                       "M204 S5000\nM205 X30 Y30\nG1 E-4.5 F3528\nG0 X150 Y150 F3600\n"
                       "M204 S500\nM205 X20 Y20\nG1 E4.5 F3528\nG1 X170 E0.26 F1800\n",
                   plant_of(1, 0.5));
  }

  TEST_CASE("a recovery that stays is not starved by what travels gave again before it") {
    // Nothing is printed before these stops, so they stay; what they wound back is theirs.
    auto plant = plant_of(0.4, 0.5);
    plant.feed.delivered_factor = 0.99;
    std::string const text =
        "G21\nM83\nM104 S205\nG0 X10 Y10 F4800\nG1 E-1 F1800\nG0 X10 Y11.75 F4800\n"
        "G1 E1 F1800\nG1 E-1 F1800\nG0 X10 Y23.3 F4800\nG1 E1 F1800\n"
        "G1 X15 Y15 E0.872072 F1800\nG1 X45 Y15 E2.7 F1800\n";
    std::string const out = adapt_text(text, options_for(plant)).text;
    auto const judged = meltlag_reference::judge(text, out, reference_plant(plant), {});
    CHECK(judged.misplaced_percent < 10);  // 18 where the recovery is starved
  }

  TEST_CASE("a purge counted in inches from E's own place is kept to the last digit") {
    check_promises(
        "G20\nM82\nM204 S2000\nG0 X0.5270 Y-0.1939 F188\nG1 E0.27317 F70\n"
        "G1 X1.6951 Y0.1805 E0.29388\nM84\n",
        plant_of(0.3, 1));
  }

  TEST_CASE("where beads ask for more than is fed the reason names the speed to print at") {
    // Slow enough that the speed is told with a decimal, and fast enough for none.
    for (double const max_flow : {0.4, 3.0}) {
      TemporaryFile const file("M83\nM104 S205\nG1 X100 E9 F1800\n");
      adapt::AdaptFileOptions options{.adapt = options_for(plant_of(0.3, 1))};
      options.adapt.plant.supply.max_flow_mm3_s = max_flow;
      OutputFile output("-");
      Notices unused;
      auto const result = adapt::adapt_file(file.path(), options, output, unused);
      std::string const speed = max_flow < 1 ? "1.8 mm/s" : "13 mm/s";
      CAPTURE(result.reason);
      CHECK(result.reason.find("limit the slicer's print speeds to " + speed) != std::string::npos);
    }
  }
}
