// SPDX-License-Identifier: MIT
#include "meltlag/profile/review.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "scratch.hpp"
#include "support/near.hpp"

using namespace meltlag;

namespace {

profile::Review review_of(std::string const& text) {
  return profile::review(profile::parse(text + std::string{machine_section}, "p.toml"));
}

constexpr char const* lag_section = "[lag]\nrun_on_mm3 = 4\nat_flow_mm3_s = 5\nflow_index = 0.8\n";

bool says(std::vector<std::string> const& sentences, std::string_view words) {
  for (std::string const& sentence : sentences)
    if (sentence.find(words) != std::string::npos) return true;
  return false;
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("the review of a shipped build names volume, lag at three flows and the causes") {
    std::string const path = std::string{MELTLAG_SOURCE_DIR} + "/profiles/bench-auger-printed.toml";
    profile::Profile const printed = profile::load(path);
    profile::Review const review = profile::review(printed);
    CHECK(review.source == profile::Source::measured);
    REQUIRE(review.melt_volume_mm3);
    // 18 mm of ring 12/9 mm and 1.5 mm of full bore; what melts in the tube at 5 mm³/s.
    double const below = std::acos(-1.0) / 4 * (18 * (144 - 81) + 1.5 * 144);
    double const in_tube = melt::barrier_state(*printed.heat_barrier, 5).melt_mm3;
    CHECK(in_tube > 100);
    CHECK_CLOSE(*review.melt_volume_mm3, below + in_tube, 1e-12);
    REQUIRE(review.lags.size() == 3);
    CHECK(review.lags[0].flow_mm3_s == 3.0);
    CHECK(review.lags[2].flow_mm3_s == 15.0);
    CHECK_CLOSE(review.lags[1].lag_s, 0.6 * 1.0 * std::pow(7.5 / 5, -0.4), 1e-12);
    CHECK(says(review.describes, "it holds 1213 mm³ of melt, 153 mm³ of it in the tube"));
    CHECK(says(review.describes, "5.00 ± 0.30 mm³ still run on"));
    CHECK(says(review.describes, "printed bracket 3.53 mm³"));
    CHECK(says(review.describes, "(95 %)"));
    CHECK(says(review.describes, "printed bracket 1500 ± 150 N/mm, thrust bearing 20000 N/mm"));
    CHECK(says(review.describes, "0.736 ± 0.061 s at 3 mm³/s"));
    CHECK(review.odd.empty());
    CHECK(review.next.starts_with("meltlag adapt "));
  }

  TEST_CASE("the deviation of the lag agrees with small steps of run-on and flow index") {
    profile::Profile p = profile::parse(lag_section + std::string{machine_section}, "p.toml");
    p.sd["lag.run_on_mm3"] = 0.04;
    p.sd["lag.flow_index"] = 0.01;
    melt::LagLaw const law = *p.measured_lag;
    for (double const flow : {2.0, 12.0}) {
      CAPTURE(flow);
      // Differences either way: exact to second order for deviations this small.
      auto const lag = [&](double run_on, double index) {
        return melt::lag_s({.run_on_mm3 = run_on, .at_flow_mm3_s = 5, .flow_index = index}, flow);
      };
      double const by_run_on = (lag(4.04, 0.8) - lag(3.96, 0.8)) / 2;
      double const by_index = (lag(4, 0.81) - lag(4, 0.79)) / 2;
      auto const sd = profile::lag_at_flow(p, law, flow).lag_sd_s;
      REQUIRE(sd);
      CHECK_CLOSE(*sd, std::hypot(by_run_on, by_index), 1e-3);
    }
    p.sd.clear();
    CHECK_FALSE(profile::lag_at_flow(p, law, 2).lag_sd_s);
  }

  TEST_CASE("a profile without lag and parts says what to measure, with the commands") {
    profile::Review const review = review_of("");
    CHECK(review.source == profile::Source::none);
    CHECK(review.lags.empty());
    CHECK(says(review.missing, "There is no lag yet"));
    CHECK(says(review.missing, "[barrel] sections"));
    CHECK(says(review.missing, "max_flow_mm3_s"));
    CHECK(says(review.missing, "delivered_factor"));
    CHECK(review.next.find("meltlag calibrate print TEST.gcode SHEET.csv --profile p.toml") !=
          std::string::npos);
  }

  TEST_CASE("a lag that is only computed is to be measured before anything is adapted") {
    profile::Profile printed =
        profile::load(std::string{MELTLAG_SOURCE_DIR} + "/profiles/bench-auger-printed.toml",
                      {.share_dir = std::string{MELTLAG_SOURCE_DIR} + "/profiles"});
    printed.measured_lag.reset();
    profile::Review const review = profile::review(printed);
    CHECK((review.source == profile::Source::parts));
    CHECK(review.next.starts_with("Measure the feed, then the lag, which is only computed"));
    CHECK(review.next.find("meltlag calibrate print") != std::string::npos);
    CHECK(says(profile::lag_doubts(printed, {}), "only computed from the parts"));
    printed.lag_left_behind = "Left behind.";
    CHECK(profile::lag_doubts(printed, {}).front() == "Left behind.");
  }

  TEST_CASE("a lag of another plastic, nozzle or temperature is doubted") {
    std::string const text =
        "[lag]\nrun_on_mm3 = 4\nat_flow_mm3_s = 5\nflow_index = 0.8\nat_c = 205\n"
        "measured_with = \"PLA\"\nmeasured_nozzle_mm = 0.8\n[nozzle]\ndiameter_mm = 1\n"
        "hole_length_mm = 2\n" +
        std::string{machine_section};
    profile::Profile p = profile::parse(text, "p.toml");
    p.material.name = "pla";
    CHECK(says(profile::lag_doubts(p, {}), "a nozzle of 0.8 mm, there is one of 1 mm now"));
    CHECK_FALSE(says(profile::lag_doubts(p, {}), "measured with PLA"));
    p.material.name = "petg";
    CHECK(says(profile::lag_doubts(p, {}), "measured with PLA, the material is petg"));
    CHECK_FALSE(says(profile::lag_doubts(p, 208), "°C"));
    CHECK(says(profile::lag_doubts(p, 190), "measured at 205 °C, the file prints at 190 °C"));
    CHECK(says(profile::lag_doubts(p, 190), "activation_kj_mol"));
    p.material.activation_kj_mol = 80;
    CHECK_FALSE(says(profile::lag_doubts(p, 190), "°C"));
    CHECK(says(profile::lag_doubts(p, 240), "far to carry it over"));
  }

  TEST_CASE("what was measured before the build was made is odd") {
    std::string const dated =
        "date = \"2026-05-17\"\n[lag]\nrun_on_mm3 = 4\nat_flow_mm3_s = 5\n"
        "flow_index = 0.8\nmeasured_on = \"{}\"\n"
        "[[measured]]\ndate = \"{}\"\nrun_on_mm3 = 4\n";
    auto const odd = [&](char const* lag, char const* print) {
      return review_of(fmt::format(fmt::runtime(dated), lag, print)).odd;
    };
    CHECK(odd("2026-05-17", "2026-06-01").empty());
    CHECK(says(odd("2026-05-16", "2026-06-01"), "The lag was measured on 2026-05-16, before"));
    CHECK(says(odd("2026-05-17", "2025-12-31"), "A print was measured on 2025-12-31, before"));
    CHECK(odd("yesterday", "last week").empty());
  }

  TEST_CASE("computed values are told with the digits that matter") {
    profile::Review const review =
        review_of("[material]\ndensity_g_cm3 = 1.134968394437421\nbulk_modulus_mpa = 1234.56789\n");
    CHECK(says(review.describes, "Material: 1.13 g/cm³, bulk modulus 1230 MPa."));
  }

  TEST_CASE("a profile with a lag alone can adapt, and is asked for its deviation and parts") {
    profile::Review const review = review_of(lag_section);
    CHECK(says(review.missing, "run_on_mm3_sd"));
    CHECK(says(review.missing, "Where the lag comes from cannot be said"));
    CHECK(review.next.starts_with("meltlag adapt "));
    CHECK(review.odd.empty());
  }

  TEST_CASE("what looks like a slip is called odd") {
    struct Row {
      std::string text, words;
    };
    std::string const lag{lag_section};
    for (Row const& row : {
             Row{"[lag]\nrun_on_mm3 = 0.005\nat_flow_mm3_s = 5\nflow_index = 1\n",
                 "hardly anything to correct"},
             Row{"[lag]\nrun_on_mm3 = 5000\nat_flow_mm3_s = 5\nflow_index = 1\n", "is very long"},
             Row{"[lag]\nrun_on_mm3 = 5\nat_flow_mm3_s = 5\nflow_index = 6\n",
                 "flow index of 6 is unusual"},
             Row{"[material]\nflow_index = 0.3\n" + lag, "far from the material's 0.3"},
             Row{"[feed]\ndelivered_factor = 3\n", "delivered factor of 3 is unusual"},
             Row{"[limits]\nmax_flow_mm3_s = 500\n", "less than max_flow_mm3_s"},
             Row{"[limits]\nmax_flow_mm3_s = 8\nmax_burst_mm3_s = 6\n", "are the two swapped?"},
             Row{"[limits]\nburst_mm3 = 1\n", "the store means nothing"},
             Row{"[limits]\nmax_flow_mm3_s = 8\nburst_mm3 = 1\nburst_mm3_sd = 0.6\n",
                 "less than twice its deviation"},
             Row{"[limits]\ncold_below_c = 20\n", "hardly any plastic flows"},
             Row{"[barrel]\nsections = [{ length_mm = 9, bore_mm = 12, screw_core_mm = 8 "
                 "}]\nscrew_diameter_mm = 10\n",
                 "leak back past it"},
             Row{"[nozzle]\ndiameter_mm = 20\nhole_length_mm = 2\n[barrel]\nsections = [{ "
                 "length_mm = 9, bore_mm = 12, "
                 "screw_core_mm = 8 }]\n",
                 "as wide as the bore"},
             Row{"[material]\nlongest_residence_s = 10\n[barrel]\nsections = [{ length_mm = 90, "
                 "bore_mm "
                 "= 12, screw_core_mm = 8 "
                 "}]\n",
                 "longer than longest_residence_s"},
         }) {
      CAPTURE(row.text);
      CHECK(says(review_of(row.text).odd, row.words));
    }
    CHECK(review_of(lag).odd.empty());
  }

  TEST_CASE("what the screw can do is reported: for long, in a burst, and what is ready") {
    std::string const flow = "[limits]\nmax_flow_mm3_s = 8.2\n";
    CHECK(says(review_of(flow).describes, "Limits: the screw feeds at most 8.2 mm³/s for long, "));
    CHECK(says(review_of(flow).missing, "melt stands ready for a burst"));
    profile::Review const both =
        review_of(flow + "burst_mm3 = 1.5\nburst_mm3_sd = 0.2\nmax_burst_mm3_s = 20\n");
    CHECK(says(both.describes,
               "8.2 mm³/s for long; 1.50 ± 0.20 mm³ stand ready for a burst, in which it feeds at "
               "most 20 mm³/s, "));
    CHECK_FALSE(says(both.missing, "stands ready"));
    CHECK(both.odd.empty());
    CHECK(says(review_of(flow + "burst_mm3 = 0\n").describes, "nothing stands ready for a burst"));
    CHECK(says(review_of("[limits]\nmax_burst_mm3_s = 20\n").describes,
               "in a burst the screw feeds at most 20 mm³/s"));
    CHECK(says(review_of("").missing, "feeds for long"));
    // A store of nothing promises nothing, so it needs no flow beside it.
    CHECK(review_of("[limits]\nburst_mm3 = 0\n").odd.empty());
  }

  TEST_CASE("parts that explain too much or too little of the measured lag are odd") {
    std::string const parts =
        "[barrel]\nsections = [{ length_mm = 18, bore_mm = 12, screw_core_mm = 9 }]\n"
        "[nozzle]\ndiameter_mm = 1\nhole_length_mm = 1.5\n"
        "[material]\ndensity_g_cm3 = 1.2\nbulk_modulus_mpa = 1000\nconsistency_pa_sn = "
        "4260\nflow_index = 0.69\n"
        "[mechanics]\nparts = [{ name = \"bracket\", n_per_mm = ";
    CHECK(says(review_of(parts + "10 }]\n" + lag_section).odd, "more than there is"));
    CHECK(says(review_of(parts + "90000 }]\n" + lag_section).odd,
               "gives way that is not in the list"));
    profile::Review const computed = review_of(parts + "1500 }]\n");
    CHECK(computed.source == profile::Source::parts);
    CHECK(says(computed.missing, "computed, not measured"));
    CHECK(says(computed.describes, "Lag as the parts explain it"));
  }
}
