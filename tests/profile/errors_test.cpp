// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"

using namespace meltlag;

namespace {

struct Fault {
  std::string name;
  std::string text;     // machine_section is put after it
  char const* message;  // the message's first line
  char const* hint;     // part of the hint
};

std::string lag_with(std::string const& line) {
  return "[lag]\nat_flow_mm3_s = 5\nflow_index = 1\n" + line + "\n";
}

std::string part(std::string const& inside) {
  return "[mechanics]\nparts = [\n  { " + inside + " },\n]\n";
}

void check_faults(std::vector<Fault> const& faults) {
  for (Fault const& fault : faults) {
    CAPTURE(fault.name);
    std::string const text = fault.text + std::string{machine_section};
    Error const error = error_of([&] { (void)profile::parse(text, "p.toml"); });
    std::string const message = error.what();
    CHECK(message.substr(0, message.find('\n')) == fault.message);
    CHECK_MESSAGE(error.hint().find(fault.hint) != std::string::npos, error.hint());
  }
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE(
      "an unknown key is an error that names the nearest known one, or the section it belongs to") {
    check_faults({
        {"letter missing",
         lag_with("run_on_mm = 5"),
         "p.toml:4:1: unknown key 'run_on_mm' in [lag]",
         "nearest known key is 'run_on_mm3'"},
        {"letters swapped",
         "[feed]\n  paly_mm = 0\n",
         "p.toml:2:3: unknown key 'paly_mm' in [feed]",
         "nearest known key is 'backlash_mm'"},
        {"deviation of a key that has one",
         lag_with("run_on_mm_sd = 5"),
         "p.toml:4:1: unknown key 'run_on_mm_sd' in [lag]",
         "nearest known key is 'run_on_mm3_sd'"},
        {"deviation of a key that has none",
         lag_with("at_flow_mm3_s_sd = 5"),
         "p.toml:4:1: unknown key 'at_flow_mm3_s_sd' in [lag]",
         "nearest known key is 'at_flow_mm3_s'"},
        {"wrong section",
         "[feed]\nmax_flow_mm3_s = 5\n",
         "p.toml:2:1: unknown key 'max_flow_mm3_s' in [feed]",
         "'max_flow_mm3_s' belongs to [limits]"},
        {"section", "[nozle]\n", "p.toml:1:2: unknown key 'nozle' at the top level", "'nozzle'"},
        {"top level",
         "titel = \"x\"\n",
         "p.toml:1:1: unknown key 'titel' at the top level",
         "'title'"},
        {"inside a part",
         part("nam = \"a\", n_per_mm = 5"),
         "p.toml:3:5: unknown key 'nam' in [mechanics.parts]",
         "'name'"},
        {"inside a bore section",
         "[barrel]\nsections = [{ length = 5, bore_mm = 9, screw_core_mm = 3 }]\n",
         "p.toml:2:15: unknown key 'length' in [barrel.sections]",
         "'length_mm'"},
        {"an axis",
         "[machine.corner_jump_mm_s]\na = 5\n#",
         "p.toml:2:1: unknown key 'a' in [machine.axes]",
         "nearest known key is 'x'"},
    });
  }

  TEST_CASE("a value of the wrong type is an error at its place") {
    check_faults({
        {"text for a number",
         lag_with("run_on_mm3 = \"5\""),
         "p.toml:4:14: [lag] run_on_mm3 is the text \"5\": expected a number",
         "run_on_mm3 = 5.0"},
        {"truth for a number",
         lag_with("run_on_mm3 = true"),
         "p.toml:4:14: [lag] run_on_mm3 is `true`: expected a number",
         "mm³"},
        {"list for a number",
         lag_with("run_on_mm3 = [5]"),
         "p.toml:4:14: [lag] run_on_mm3 is a list: expected a number",
         "mm³"},
        {"date for a number",
         lag_with("run_on_mm3 = 2024-05-01"),
         "p.toml:4:14: [lag] run_on_mm3 is a date or time: expected a number",
         "mm³"},
        {"number for a text",
         "title = 5\n",
         "p.toml:1:9: title is a number: expected a text in quotes",
         "title"},
        {"number for a deviation",
         lag_with("run_on_mm3 = 5\nrun_on_mm3_sd = \"x\""),
         "p.toml:5:17: [lag] run_on_mm3_sd is the text \"x\": expected a number",
         ""},
        {"number for a section", "lag = 5\n", "p.toml:1:7: 'lag' is not a section", "[lag]"},
        {"text for a store",
         "[limits]\nburst_mm3 = \"1\"\n",
         "p.toml:2:13: [limits] burst_mm3 is the text \"1\": expected a number",
         "burst_mm3 = 0"},
        {"number for a list",
         "[barrel]\nsections = 5\n",
         "p.toml:2:12: [barrel] sections is a number: expected a list of tables",
         "length_mm = 60"},
        {"number in a list",
         "[barrel]\nsections = [5]\n",
         "p.toml:2:13: [barrel.sections[0]] is a number: expected a table in braces",
         "length_mm = 60"},
        {"base", "base = 5\n", "p.toml:1:8: 'base' is not the name of a file", "other.toml"},
        {"material",
         "[material]\nuse = 5\n",
         "p.toml:2:7: [material] use is not the name of a material",
         "pla"},
    });
  }

  TEST_CASE("a number out of its range is an error at its place") {
    check_faults({
        {"nan",
         lag_with("run_on_mm3 = nan"),
         "p.toml:4:14: [lag] run_on_mm3 is nan: a finite number is needed",
         "mm³"},
        {"inf",
         lag_with("run_on_mm3 = inf"),
         "p.toml:4:14: [lag] run_on_mm3 is inf: a finite number is needed",
         "mm³"},
        {"zero",
         lag_with("run_on_mm3 = 0"),
         "p.toml:4:14: [lag] run_on_mm3 is 0: it must be greater than 0",
         "mm³"},
        {"negative",
         lag_with("run_on_mm3 = -1.5"),
         "p.toml:4:14: [lag] run_on_mm3 is -1.5: it must be greater than 0",
         ""},
        {"negative backlash",
         "[feed]\nbacklash_mm = -0.1\n",
         "p.toml:2:15: [feed] backlash_mm is -0.1: it must not be negative",
         ""},
        {"share",
         "[lag]\ncreep_share = 1.2\n",
         "p.toml:2:15: [lag] creep_share is 1.2: it must lie between 0 and 1",
         ""},
        {"deviation",
         lag_with("run_on_mm3 = 5\nrun_on_mm3_sd = -1"),
         "p.toml:5:17: [lag] run_on_mm3_sd is -1: a standard deviation is 0 or more",
         "take the line out"},
        {"flow for long",
         "[limits]\nmax_flow_mm3_s = 0\n",
         "p.toml:2:18: [limits] max_flow_mm3_s is 0: it must be greater than 0",
         "feeds for long"},
        {"store",
         "[limits]\nmax_flow_mm3_s = 8\nburst_mm3 = -1\n",
         "p.toml:3:13: [limits] burst_mm3 is -1: it must not be negative",
         "stands ready"},
        {"store's deviation",
         "[limits]\nmax_flow_mm3_s = 8\nburst_mm3 = 1\nburst_mm3_sd = -0.1\n",
         "p.toml:4:16: [limits] burst_mm3_sd is -0.1: a standard deviation is 0 or more",
         "take the line out"},
        {"burst's flow",
         "[limits]\nmax_burst_mm3_s = 0\n",
         "p.toml:2:19: [limits] max_burst_mm3_s is 0: it must be greater than 0",
         "in a short burst"},
        {"range",
         "[material]\nflow_index = 0.5\nflow_index_low = 0.6\nflow_index_high = 0.7\n",
         "p.toml:2:14: [material] flow_index is 0.5, outside its range 0.6 … 0.7",
         ""},
        {"infinite range",
         "[material]\nflow_index = 0.5\nflow_index_low = -inf\nflow_index_high = inf\n",
         "p.toml:2:14: [material] flow_index is 0.5, outside its range -inf … inf",
         ""},
        {"core",
         "[barrel]\nsections = [{ length_mm = 5, bore_mm = 9, screw_core_mm = 9 }]\n",
         "p.toml:2:59: [barrel.sections[0]] screw_core_mm is 9, in a bore of 9 mm",
         "root"},
        {"empty list",
         "[barrel]\nsections = []\n",
         "p.toml:2:12: [barrel] sections is an empty list",
         ""},
    });
  }

  TEST_CASE("what is missing is named, with what to type") {
    check_faults({
        {"run-on",
         "[lag]\nat_flow_mm3_s = 5\nflow_index = 1\n",
         "p.toml:1:1: [lag] run_on_mm3 is missing",
         "type `run_on_mm3 = 5.0` under [lag]"},
        {"flow of the run-on",
         "[lag]\nrun_on_mm3 = 5\nflow_index = 1\n",
         "p.toml:1:1: [lag] at_flow_mm3_s is missing",
         "type `at_flow_mm3_s = 5.0` under [lag]"},
        {"flow index",
         "[lag]\nrun_on_mm3 = 5\nat_flow_mm3_s = 1\n",
         "p.toml:1:1: [lag] flow_index is missing",
         "type `flow_index = 0.6` under [lag]"},
        {"run-on of a temperature",
         "[lag]\nat_c = 200\n",
         "p.toml:1:1: [lag] run_on_mm3 is missing",
         ""},
        {"time of creep",
         "[lag]\ncreep_share = 0.1\n",
         "p.toml:1:1: [lag] creep_s is missing",
         "creep_s = 30"},
        {"value of a deviation",
         lag_with("run_on_mm3_sd = 5"),
         "p.toml:4:17: [lag] run_on_mm3_sd stands without run_on_mm3",
         ""},
        {"store of a deviation",
         "[limits]\nburst_mm3_sd = 0.1\n",
         "p.toml:2:16: [limits] burst_mm3_sd stands without burst_mm3",
         ""},
        {"end of a range",
         "[material]\nflow_index = 0.5\nflow_index_low = 0.4\n",
         "p.toml:3:18: [material] flow_index_high is missing: a range has both ends",
         "flow_index_low and flow_index_high"},
        {"bore sections",
         "[barrel]\ntip_gap_mm = 2\n",
         "p.toml:1:1: [barrel] sections is missing",
         "sections = [{"},
        {"hole",
         "[nozzle]\ndiameter_mm = 0.8\n",
         "p.toml:1:1: [nozzle] hole_length_mm is missing",
         "hole_length_mm = 2.0"},
        {"name of a part",
         part("n_per_mm = 5"),
         "p.toml:3:3: [mechanics.parts[0]] name is missing",
         "bracket"},
        {"stiffness of a part",
         part("name = \"a\""),
         "p.toml:3:3: [mechanics] parts \"a\": a part has neither n_per_mm nor deflection_mm",
         "give n_per_mm"},
        {"flow of a deflection",
         part("name = \"a\", deflection_mm = 1"),
         "p.toml:3:3: [mechanics] parts \"a\": deflection_mm stands without at_flow_mm3_s",
         "dial gauge"},
    });
  }

  TEST_CASE("a key of version 0.1 is an error that names the new one") {
    check_faults({
        {"backlash",
         "[feed]\nplay_mm = 0.1\n",
         "p.toml:2:1: 'play_mm' in [feed] is called 'backlash_mm' since version 0.2",
         "write backlash_mm in its place"},
        {"deviation of a deflection",
         part("name = \"a\", give_mm_sd = 0.01"),
         "p.toml:3:17: 'give_mm_sd' in [mechanics.parts] is called 'deflection_mm_sd' since "
         "version "
         "0.2",
         "write deflection_mm_sd"},
        {"residence time",
         "[material]\nlongest_stay_s = 600\n",
         "p.toml:2:1: 'longest_stay_s' in [material] is called 'longest_residence_s' since version "
         "0.2",
         "the value means the same"},
        {"blob",
         "[[measured]]\nknob_mm3 = 0.4\n",
         "p.toml:2:1: 'knob_mm3' in [measured] is called 'blob_mm3' since version 0.2",
         ""},
        // What merely begins like one is unknown, and so is one where its new name does not belong.
        {"longer word",
         "[feed]\nplay_mm_low = 1\n",
         "p.toml:2:1: unknown key 'play_mm_low' in [feed]",
         ""},
        {"elsewhere",
         "[limits]\ngive_mm = 1\n",
         "p.toml:2:1: unknown key 'give_mm' in [limits]",
         ""},
    });
  }

  TEST_CASE("what contradicts itself is an error") {
    check_faults({
        {"two stiffnesses",
         part("name = \"a\", n_per_mm = 1, deflection_mm = 1, at_flow_mm3_s = 1"),
         "p.toml:3:3: [mechanics] parts \"a\": a part has both n_per_mm and deflection_mm",
         ""},
        {"parts and load test",
         part("name = \"a\", n_per_mm = 1") + "load_test = \"x.csv\"\n",
         "p.toml:5:13: [mechanics] has both parts and load_test",
         "keep one"},
        {"screw wider than its bore",
         "[barrel]\nsections = [{ length_mm = 5, bore_mm = 9, screw_core_mm = 3 "
         "}]\nscrew_diameter_mm = 10\n",
         "p.toml:3:21: [barrel] screw_diameter_mm: a screw of 10 mm does not fit a bore of 9 mm",
         "flights"},
    });
  }

  TEST_CASE("the machine's limits are needed, each axis of them") {
    auto const message = [](std::string const& text) {
      std::string const what = error_of([&] { (void)profile::parse(text, "p.toml"); }).what();
      return what.substr(0, what.find('\n'));
    };
    CHECK(message("") == "p.toml: the section [machine] is missing");
    CHECK(message("[machine]\n") == "p.toml:1:1: [machine] acceleration_mm_s2 is missing");
    CHECK(message("[machine]\nacceleration_mm_s2 = 800\n") ==
          "p.toml:1:1: [machine] max_speed_mm_s is missing");

    std::string axis_missing{machine_section};
    axis_missing.replace(axis_missing.find("z = 20, "), 8, "");
    CHECK(message(axis_missing) == "p.toml:4:18: [machine] max_speed_mm_s has no value for z");
    std::string one_number{machine_section};
    one_number.replace(one_number.find("{ x = 10"), 34, "10");
    CHECK(message(one_number) ==
          "p.toml:3:20: [machine] corner_jump_mm_s is a number: expected a value for each axis");
    std::string zero{machine_section};
    zero.replace(zero.find("z = 0.4"), 7, "z = 0.0");
    CHECK(message(zero) ==
          "p.toml:3:42: [machine.corner_jump_mm_s] z is 0: it must be greater than 0");

    std::string const whole{machine_section};
    CHECK(message(whole + "corner_rule = \"round\"\n") ==
          "p.toml:6:15: [machine] corner_rule is \"round\": expected \"jump\" or \"rounding\"");
    CHECK(message(whole + "corner_rule = \"rounding\"\n") ==
          "p.toml:1:1: [machine] corner_rounding_mm is missing");
    CHECK(message(whole + "buffer_moves = 1.5\n") ==
          "p.toml:6:16: [machine] buffer_moves is 1.5: expected a whole number, 2 or more");
    CHECK(message(whole + "g91_covers_e = 1\n") ==
          "p.toml:6:16: [machine] g91_covers_e is a number: expected true or false");
  }

  TEST_CASE(
      "keys of travels and retracts that make no sense are errors at their place, with a hint") {
    auto const check = [](std::string const& line, std::string const& message, char const* hint) {
      CAPTURE(line);
      Error const error = error_of(
          [&] { (void)profile::parse(std::string{machine_section} + line + "\n", "p.toml"); });
      std::string const what = error.what();
      CHECK(what.substr(0, what.find('\n')) == message);
      CHECK_MESSAGE(error.hint().find(hint) != std::string::npos, error.hint());
    };
    check(
        "travel_acceleration_holds_for = \"all\"",
        "p.toml:6:33: [machine] travel_acceleration_holds_for is \"all\": expected \"moves without "
        "E\" or \"G0\"",
        "most printers");
    check(
        "travel_acceleration_holds_for = true",
        "p.toml:6:33: [machine] travel_acceleration_holds_for is `true`: expected a text in quotes",
        "G0");
    check("retract_acceleration_mm_s2 = 0",
          "p.toml:6:30: [machine] retract_acceleration_mm_s2 is 0: it must be greater than 0",
          "E alone");
    check("retract_acceleration_mm_s = 900",
          "p.toml:6:1: unknown key 'retract_acceleration_mm_s' in [machine]",
          "nearest known key is 'retract_acceleration_mm_s2'");
    check("stops_halt = 1",
          "p.toml:6:14: [machine] stops_halt is a number: expected true or false",
          "comes to rest");
  }

  TEST_CASE("a value that cannot be meant is an error that names what is usual") {
    auto const check = [](std::string const& text, std::string const& message) {
      Error const error =
          error_of([&] { (void)profile::parse(text + std::string{machine_section}, "p.toml"); });
      std::string const what = error.what();
      CHECK(what.substr(0, what.find('\n')) == message);
    };
    check(
        "[feed]\nslicer_diameter_mm = 175\n",
        "p.toml:2:22: [feed] slicer_diameter_mm is 175: that cannot be meant; usual: 1.75 or 2.85 "
        "mm");
    check(
        "[barrel]\nsections = [{ length_mm = 9, bore_mm = 12, screw_core_mm = 9 }]\n"
        "hot_end_c = 2050\n",
        "p.toml:3:13: [barrel] hot_end_c is 2050: that cannot be meant; usual: 150 to 300 °C");
    std::string machine{machine_section};
    auto const slip = [&](std::string const& right, std::string const& wrong) {
      std::string text = machine;
      text.replace(text.find(right), right.size(), wrong);
      return std::string{error_of([&] { (void)profile::parse(text, "p.toml"); }).what()};
    };
    CHECK(slip("mm_s2 = 800", "mm_s2 = 0.8").find("usual: 300 to 10000 mm/s²") !=
          std::string::npos);
    CHECK(slip("e = 60", "e = 60000").find("usual: 5 to 500 mm/s") != std::string::npos);
  }

  TEST_CASE("a hint says what a key is in words that fit, and where it goes") {
    Error const when = error_of([] { (void)profile::parse("date = 5\n", "p.toml"); });
    CHECK(when.hint() == "date: when the machine was built so; for example: date = \"2026-05-17\"");
    Error const inside = error_of(
        [] { (void)profile::parse("[barrel]\nsections = [{ bore_mm = 12 }]\n", "p.toml"); });
    CHECK(inside.hint().find("inside its braces") != std::string::npos);
    CHECK(inside.hint().find("[barrel.sections]") == std::string::npos);
  }

  TEST_CASE("a decimal comma in a profile is named as one") {
    Error const error =
        error_of([] { (void)profile::parse("[lag]\nrun_on_mm3 = 3,37\n", "p.toml"); });
    CHECK(std::string{error.what()}.starts_with("p.toml:2:"));
    CHECK(std::string{error.what()}.find("a decimal comma cannot be read here") !=
          std::string::npos);
    CHECK(error.hint() == "use a decimal point: 3.37");
  }

  TEST_CASE("text that is no TOML is an error at its line") {
    Error const broken =
        error_of([] { (void)profile::parse("[lag]\nrun_on_mm3 = 5 mm\n", "p.toml"); });
    CHECK(std::string{broken.what()}.starts_with("p.toml:2:"));
    CHECK(std::string{broken.what()}.find("this is not valid TOML") != std::string::npos);
    Error const twice =
        error_of([] { (void)profile::parse("[lag]\nat_c = 5\nat_c = 6\n", "p.toml"); });
    CHECK(std::string{twice.what()}.starts_with("p.toml:3:"));
    Error const bytes = error_of([] { (void)profile::parse("title = \"\xff\"\n", "p.toml"); });
    CHECK(std::string{bytes.what()}.starts_with("p.toml:1:"));
  }

  TEST_CASE("a profile that cannot be read says why") {
    Scratch const scratch;
    auto const message = [](std::string const& path) {
      return std::string{error_of([&] { (void)profile::load(path); }).what()};
    };
    std::string const missing = scratch.path("none.toml");
    CHECK(message(missing).starts_with(missing +
                                       ": cannot read the profile: No such file or directory\n"));
    std::string const directory = scratch.path("");
    CHECK(message(directory).starts_with(directory + ": " + directory +
                                         " is a directory, not a profile\n"));
    std::string const huge = scratch.write("huge.toml", std::string(5 << 20, '#'));
    CHECK(message(huge).starts_with(huge + ": this is too large for a profile\n"));
  }
}
