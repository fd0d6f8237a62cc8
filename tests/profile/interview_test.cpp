// SPDX-License-Identifier: MIT
#include "meltlag/profile/interview.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"
#include "support/near.hpp"

using namespace meltlag;
using profile::Interview;

namespace {

using Answers = std::map<std::string, std::string, std::less<>>;

// Puts every question; those without an answer here get Enter.
Interview answered(Answers const& answers) {
  Interview interview({"abs", "pla"});
  for (profile::Question const& question : Interview::questions()) {
    auto const found = answers.find(question.name);
    std::string const problem =
        interview.take(question, found == answers.end() ? "" : found->second);
    CAPTURE(std::string{question.name});
    CHECK(problem.empty());
  }
  return interview;
}

profile::Question const& question(std::string_view name) {
  return *std::ranges::find(Interview::questions(), name, &profile::Question::name);
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("full answers become a profile of the machine") {
    Answers const answers{{"title", "Shed \"auger\""},
                          {"filament", "2,85"},
                          {"bore", "12"},
                          {"screw", "11.8"},
                          {"core", "9"},
                          {"length", "18"},
                          {"gap", "0"},
                          {"hole", "1"},
                          {"hole_length", "1.5"},
                          {"holder", "bracket"},
                          {"weight", "10"},
                          {"give", "0.1"},
                          {"material", "pla"},
                          {"max_flow", " 15 "},
                          {"run_on", "5"},
                          {"at_flow", "5"},
                          {"index", "0.6"}};
    CHECK(answers.size() == Interview::questions().size());
    Interview const interview = answered(answers);
    std::string const text = profile::starter(interview.values());
    std::string const filled = text.substr(0, text.find("[machine]")) +
                               std::string{machine_section} + text.substr(text.find("[limits]"));
    profile::Profile const p = profile::parse(
        filled, "p.toml", {.share_dir = std::string{MELTLAG_SOURCE_DIR} + "/profiles"});
    CHECK(p.title == "Shed \"auger\"");
    CHECK(p.feed.slicer_diameter_mm == 2.85);
    CHECK(p.barrel->sections.at(0).screw_core_mm == 9.0);
    CHECK(p.barrel->screw_diameter_mm == 11.8);
    CHECK(p.nozzle->hole_length_mm == 1.5);
    CHECK_CLOSE(*p.mechanics.at(0).n_per_mm, 980.665, 0.001);
    CHECK(p.material.name == "pla");
    CHECK(p.bounds.max_flow_mm3_s == 15.0);
    CHECK(p.measured_lag->flow_index == 0.6);
    CHECK(interview.understood().size() == interview.values().size());
  }

  TEST_CASE("Enter everywhere gives nothing and needs nothing") {
    Interview const interview = answered({});
    CHECK(interview.values().empty());
    CHECK(interview.understood().empty());
  }

  TEST_CASE("what is only half known is left out and said") {
    Interview const interview =
        answered({{"bore", "12"}, {"hole", "1"}, {"weight", "3"}, {"run_on", "5"}});
    CHECK(interview.values().empty());
    CHECK(interview.understood() ==
          std::vector<std::string>{"barrel: left out, it needs bore, core and length",
                                   "nozzle: left out, it needs diameter and length of the hole",
                                   "mechanics: left out, it needs name, weight and movement",
                                   "lag: left out, it needs run-on, flow and flow index"});
  }

  TEST_CASE("an answer may have its unit behind it, a decimal comma and other capitals") {
    Interview const interview = answered({{"filament", "2,85 mm"},
                                          {"max_flow", "12.5 mm^3/s"},
                                          {"run_on", "3,37mm³"},
                                          {"at_flow", "5 mm3/s"},
                                          {"index", "0,6"},
                                          {"material", "PLA"}});
    CHECK(interview.values() == profile::StarterValues{{"feed.slicer_diameter_mm", "2.85"},
                                                       {"lag.at_flow_mm3_s", "5.0"},
                                                       {"lag.flow_index", "0.6"},
                                                       {"lag.run_on_mm3", "3.37"},
                                                       {"limits.max_flow_mm3_s", "12.5"},
                                                       {"material.use", "\"pla\""}});
  }

  TEST_CASE("an answer that cannot be meant names what is usual") {
    Interview interview({});
    CHECK(interview.take(question("filament"), "175") ==
          "175 mm: that cannot be meant; usual: 1.75 or 2.85 mm");
  }

  TEST_CASE("an answer that cannot be is asked again") {
    Interview interview({"abs", "pla"});
    for (char const* answer :
         {"twelve", "12 kg", "12 mm³", "12.5.1", "nan", "inf", "-3", "0", "12000"}) {
      CAPTURE(std::string{answer});
      CHECK_FALSE(interview.take(question("bore"), answer).empty());
    }
    CHECK(interview.take(question("bore"), "12").empty());
    CHECK(interview.take(question("core"), "12") ==
          "The core has to be thinner than the bore of 12 mm");
    CHECK(interview.take(question("screw"), "13") == "The screw has to fit into the bore of 12 mm");
    CHECK(interview.take(question("material"), "wood") ==
          "Known are abs, pla; Enter for \"don't know\"");
    CHECK(interview.take(question("material"), "abs\r").empty());
    CHECK(interview.values() == profile::StarterValues{{"material.use", "\"abs\""}});
  }
}
