// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "meltlag/profile/profile.hpp"
#include "meltlag/profile/settings_report.hpp"
#include "scratch.hpp"
#include "support/near.hpp"

using namespace meltlag;

namespace {

std::string const source = MELTLAG_SOURCE_DIR;

profile::Profile shipped(std::string const& name) {
  return profile::load(source + "/profiles/" + name + ".toml");
}

profile::Profile with_material(std::string const& name) {
  std::string const text = "[material]\nuse = \"" + name + "\"\n" + std::string{machine_section};
  return profile::parse(text, "p.toml", {.share_dir = source + "/profiles"});
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE(
      "the parts of the shipped builds explain most of the measured run-on, and not more than it") {
    for (char const* name : {"bench-auger-printed", "bench-auger-braced"}) {
      CAPTURE(std::string{name});
      profile::Profile const p = shipped(name);
      auto const lag = profile::parts_lag(p);
      REQUIRE(lag);
      REQUIRE(p.measured_lag);
      double const share = lag->law.run_on_mm3 / p.measured_lag->run_on_mm3;
      CHECK(share > 0.80);
      CHECK(share <= 1.0);
    }
  }

  TEST_CASE("the printed bracket stores several times what the melt does, the braced one less") {
    auto const run_on = [](std::string const& build, std::size_t share) {
      return profile::parts_lag(shipped(build))->shares.at(share).run_on_mm3;
    };
    CHECK(run_on("bench-auger-printed", 1) > 5 * run_on("bench-auger-printed", 0));
    CHECK(run_on("bench-auger-braced", 1) < run_on("bench-auger-braced", 0));
  }

  TEST_CASE("the brace changes lag and mechanics and leaves the rest as it was") {
    profile::Profile const printed = shipped("bench-auger-printed"),
                           braced = shipped("bench-auger-braced");
    CHECK(printed.measured_lag->run_on_mm3 == 5.0);
    CHECK(braced.measured_lag->run_on_mm3 == 1.6);
    CHECK(braced.limits == printed.limits);
    CHECK(braced.feed.delivered_factor == printed.feed.delivered_factor);
    CHECK(braced.barrel->sections.size() == printed.barrel->sections.size());
    CHECK(braced.title != printed.title);
    CHECK(braced.sd.at("lag.run_on_mm3") == 0.15);
  }

  TEST_CASE(
      "every material loads with a range for each value, and none invents a longest residence "
      "time") {
    for (char const* name : {"pla", "abs", "petg", "pp", "ps", "hdpe"}) {
      CAPTURE(std::string{name});
      profile::Profile const p = with_material(name);
      CHECK(p.material.name == name);
      REQUIRE(p.material.density_g_cm3);
      REQUIRE(p.material.bulk_modulus_mpa);
      CHECK(p.material.consistency_pa_sn.has_value() == (std::string{name} != "petg"));
      CHECK(p.material.flow_index.has_value() == p.material.consistency_pa_sn.has_value());
      CHECK_FALSE(p.material.longest_residence_s);
      std::size_t const values = p.material.consistency_pa_sn ? 9 : 6;
      CHECK(p.sd.size() == values);
    }
  }

  // Tait coefficients from Danner and High, "Handbook of Polymer Solution Thermodynamics", Table
  // 3B-1.
  TEST_CASE(
      "the bulk moduli of PP, PS and HDPE lie between the published ones at rest and at 20 MPa") {
    struct Row {
      char const* name;
      double b0_pa, b1_per_c, at_c;
    };
    for (Row const& row : {Row{"pp", 1.4236e8, 4.0184e-3, 200},
                           Row{"ps", 2.5001e8, 4.1815e-3, 190},
                           Row{"hdpe", 1.7867e8, 4.7254e-3, 190}}) {
      CAPTURE(std::string{row.name});
      constexpr double c = 0.0894;
      double const b_mpa = row.b0_pa * std::exp(-row.b1_per_c * row.at_c) / 1e6;
      double const at_rest = b_mpa / c;
      double const at_20 = (b_mpa + 20) * (1 - c * std::log1p(20 / b_mpa)) / c;
      double const shipped_mpa = *with_material(row.name).material.bulk_modulus_mpa;
      CHECK_CLOSE(shipped_mpa, (at_rest + at_20) / 2, 0.01);
    }
  }

  // Materials 2023, 16(24), 7664, Table 1: PLA n 0.69, 1945 Pa·s, 0.08 s; ABS n 0.42–0.49, K
  // 6678–12189 Pa·sⁿ.
  TEST_CASE("the power laws of PLA and ABS are the published ones") {
    CHECK_CLOSE(
        *with_material("pla").material.consistency_pa_sn, 1945 * std::pow(0.08, 0.69 - 1), 0.005);
    CHECK_CLOSE(*with_material("abs").material.consistency_pa_sn, (6678 + 12189) / 2.0, 0.005);
    CHECK_CLOSE(*with_material("abs").material.flow_index, (0.42 + 0.49) / 2, 1e-9);
  }

  TEST_CASE(
      "the sample settings report gives the limits of the shipped profiles, but for travels and "
      "retracts") {
    std::ifstream file(source + "/samples/printer-settings.txt");
    std::string const text{std::istreambuf_iterator<char>(file), {}};
    Scratch const scratch;
    scratch.write("printer.txt", text);
    std::string const path =
        scratch.write("p.toml", "[machine]\nsettings_report = \"printer.txt\"\n");
    motion::Limits limits = profile::load(path).limits;
    CHECK(limits.travel_acceleration_mm_s2 == 1000.0);
    CHECK(limits.retract_acceleration_mm_s2 == 1500.0);
    limits.travel_acceleration_mm_s2 = 800;
    limits.retract_acceleration_mm_s2 =
        shipped("bench-auger-printed").limits.retract_acceleration_mm_s2;
    CHECK(limits == shipped("bench-auger-printed").limits);
  }
}
