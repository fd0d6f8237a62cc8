// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>
#include <unistd.h>

#include <cmath>

#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"
#include "support/near.hpp"

using namespace meltlag;

namespace {

constexpr std::string_view full = R"(title = "base"
notes = "kept"
[feed]
delivered_factor = 0.9
delivered_factor_sd = 0.05
[lag]
run_on_mm3 = 4
run_on_mm3_sd = 0.4
at_flow_mm3_s = 5
flow_index = 0.7
flow_index_sd = 0.1
[mechanics]
load_test = "loads.csv"
[limits]
max_thrust_n = 300
)";

std::string first_line(Error const& error) {
  std::string const what = error.what();
  return what.substr(0, what.find('\n'));
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("a base gives what the profile does not say, also inside tables") {
    Scratch const scratch;
    scratch.write("machines/base.toml", std::string{full} + std::string{machine_section});
    scratch.write("machines/loads.csv", "force_n,deflection_mm\n0,0\n100,0.1\n");
    std::string const path = scratch.write("mine.toml",
                                           "title = \"mine\"\nbase = \"machines/base.toml\"\n"
                                           "[lag]\nflow_index = 0.5\n"
                                           "[machine]\nmax_speed_mm_s = { e = 90 }\n");
    profile::Profile const p = profile::load(path);
    CHECK(p.title == "mine");
    CHECK(p.notes == "kept");
    CHECK(p.path == path);
    CHECK(p.feed.delivered_factor == 0.9);
    CHECK(p.measured_lag->run_on_mm3 == 4.0);
    CHECK(p.measured_lag->flow_index == 0.5);
    CHECK(p.limits.max_speed_mm_s == motion::PerAxis{300, 300, 20, 90});
    REQUIRE(p.mechanics.size() == 1);
    CHECK_CLOSE(*p.mechanics[0].n_per_mm, 1000, 1e-12);
  }

  TEST_CASE("a profile of version 0.1 that says there is no backlash is read") {
    Scratch const scratch;
    scratch.write("loads.csv", "force_n,deflection_mm\n0,0\n100,0.1\n");
    std::string text = std::string{full} + std::string{machine_section};
    text.insert(text.find("[feed]\n") + 7, "play_mm = 0.0\n");
    CHECK(profile::load(scratch.write("old.toml", text)).feed.backlash_mm == 0);
  }

  TEST_CASE("a value given again drops the base's deviation, and the base's other way to say it") {
    Scratch const scratch;
    scratch.write("base.toml", std::string{full} + std::string{machine_section});
    std::string const path =
        scratch.write("mine.toml",
                      "base = \"base.toml\"\n[lag]\nrun_on_mm3 = 3\nflow_index = 0.5\n"
                      "[limits]\nmax_pressure_mpa = 5\n"
                      "[mechanics]\nparts = [{ name = \"bracket\", n_per_mm = 50 }]\n");
    profile::Profile const p = profile::load(path);
    CHECK(p.sd.count("lag.flow_index") == 0);
    CHECK(p.sd.count("lag.run_on_mm3") == 0);
    CHECK(p.sd.at("feed.delivered_factor") == 0.05);
    CHECK(p.bounds.max_pressure_mpa == 5.0);
    CHECK_FALSE(p.bounds.max_thrust_n);
    REQUIRE(p.mechanics.size() == 1);
    CHECK(p.mechanics[0].n_per_mm == 50.0);
  }

  TEST_CASE("a base's lag stays behind where the build is another, and the profile says so") {
    Scratch const scratch;
    std::string const lag = "[lag]\nrun_on_mm3 = 3.37\nat_flow_mm3_s = 5\nflow_index = 0.6\n";
    std::string const base =
        scratch.write("base.toml",
                      lag +
                          "[nozzle]\ndiameter_mm = 0.8\nhole_length_mm = 2\n"
                          "[mechanics]\nparts = [{ name = \"bracket\", n_per_mm = 800 }]\n" +
                          std::string{machine_section});
    auto const with = [&](std::string const& more) {
      return profile::load(scratch.write("new.toml", "base = \"base.toml\"\n" + more));
    };
    profile::Profile const braced =
        with("[mechanics]\nparts = [{ name = \"brace\", n_per_mm = 22000 }]\n");
    CHECK_FALSE(braced.measured_lag);
    CHECK(braced.lag_left_behind == "The lag of " + base +
                                        " is not taken over, as [mechanics] is another: measure "
                                        "it again on this build.");
    CHECK_FALSE(with("[nozzle]\ndiameter_mm = 1\n").measured_lag);
    // The same build, said in other words or more of it.
    for (char const* const same :
         {"",
          "[nozzle]\ndiameter_mm = 0.80\ndiameter_mm_sd = 0.01\n",
          "[mechanics]\nparts = [{ name = \"the bracket\", n_per_mm = 800.0, n_per_mm_sd = 9 }]\n",
          "[barrel]\nsections = [{ length_mm = 60, bore_mm = 14, screw_core_mm = 9 }]\n",
          "[limits]\nmax_flow_mm3_s = 9\n"}) {
      CAPTURE(same);
      REQUIRE(with(same).measured_lag);
      CHECK(with(same).measured_lag->run_on_mm3 == 3.37);
      CHECK(with(same).lag_left_behind.empty());
    }
    // Measured again: nothing is left behind.
    profile::Profile const again = with("[nozzle]\ndiameter_mm = 1\n[lag]\nrun_on_mm3 = 2\n");
    CHECK(again.measured_lag->run_on_mm3 == 2);
    CHECK(again.lag_left_behind.empty());
  }

  TEST_CASE("a lag that a base left behind stays there for those above it") {
    Scratch const scratch;
    scratch.write("a.toml",
                  "[lag]\nrun_on_mm3 = 3\nat_flow_mm3_s = 5\nflow_index = 0.6\n[nozzle]\n"
                  "diameter_mm = 0.8\nhole_length_mm = 2\n" +
                      std::string{machine_section});
    scratch.write("b.toml", "base = \"a.toml\"\n[nozzle]\ndiameter_mm = 1\n");
    profile::Profile const c =
        profile::load(scratch.write("c.toml", "base = \"b.toml\"\n[nozzle]\ndiameter_mm = 0.8\n"));
    CHECK_FALSE(c.measured_lag);
    CHECK(c.lag_left_behind.find("a.toml") != std::string::npos);
  }

  TEST_CASE("a base may have a base, and an error in one is placed there") {
    Scratch const scratch;
    scratch.write("a.toml", std::string{machine_section});
    scratch.write("b.toml", "base = \"a.toml\"\n[feed]\nbacklash_mm = 0.2\n");
    std::string const path = scratch.write("c.toml", "base = \"b.toml\"\n");
    CHECK(profile::load(path).feed.backlash_mm == 0.2);
    std::string const b = scratch.write("b.toml", "base = \"a.toml\"\n[feed]\nbacklash_mm = -1\n");
    CHECK(first_line(error_of([&] { (void)profile::load(path); })) ==
          b + ":3:15: [feed] backlash_mm is -1: it must not be negative");
  }

  TEST_CASE("bases that go round in a circle are an error, also a profile that is its own base") {
    Scratch const scratch;
    std::string const a = scratch.write("a.toml", "base = \"b.toml\"\n");
    std::string const b = scratch.write("b.toml", "\nbase = \"./a.toml\"\n");
    CHECK(first_line(error_of([&] {
            (void)profile::load(a);
          })).starts_with(b + ":2:8: 'base' refers to itself in a circle"));
    std::string const self = scratch.write("self.toml", "base = \"self.toml\"\n");
    CHECK(first_line(error_of([&] {
            (void)profile::load(self);
          })).starts_with(self + ":1:8: 'base' refers to itself"));
  }

  TEST_CASE("files that a profile names are looked for beside it, and missed at the naming key") {
    Scratch const scratch;
    auto const message = [&](std::string const& text) {
      std::string const path = scratch.write("p.toml", text);
      return first_line(error_of([&] { (void)profile::load(path); })).substr(path.size());
    };
    CHECK(message("base = \"no.toml\"\n") == ":1:8: there is no file " + scratch.path("no.toml"));
    CHECK(message("[machine]\nsettings_report = \"no.txt\"\n") ==
          ":2:19: there is no file " + scratch.path("no.txt"));
    CHECK(message("[mechanics]\nload_test = \"no.csv\"\n") ==
          ":2:13: there is no file " + scratch.path("no.csv"));
    CHECK(message("[mechanics]\nload_test = \"\"\n") ==
          ":2:13: [mechanics] load_test names no file");
  }

  TEST_CASE("a material comes from beside the profile first, then from the shipped ones") {
    Scratch const scratch;
    scratch.write("share/materials/mix.toml",
                  "[material]\ndensity_g_cm3 = 1.1\nflow_index = 0.4\n"
                  "flow_index_low = 0.3\nflow_index_high = 0.5\n");
    scratch.write("share/materials/other.toml", "[material]\ndensity_g_cm3 = 1.3\n");
    std::string const path =
        scratch.write("p.toml", "[material]\nuse = \"mix\"\n" + std::string{machine_section});
    profile::LoadOptions const options{.share_dir = scratch.path("share")};
    CHECK(profile::load(path, options).material.name == "mix");
    CHECK(profile::load(path, options).material.density_g_cm3 == 1.1);
    std::string const shouted =
        scratch.write("q.toml", "[material]\nuse = \"Mix\"\n" + std::string{machine_section});
    CHECK(profile::load(shouted, options).material.density_g_cm3 == 1.1);
    CHECK(profile::load(path, options).sd.count("material.flow_index") == 1);

    scratch.write("materials/mix.toml", "[material]\ndensity_g_cm3 = 1.2\n");
    CHECK(profile::load(path, options).material.density_g_cm3 == 1.2);
    CHECK_FALSE(profile::load(path, options).material.flow_index);
  }

  TEST_CASE("keys beside `use` replace the material's, with its range") {
    Scratch const scratch;
    scratch.write("materials/mix.toml",
                  "[material]\ndensity_g_cm3 = 1.1\nflow_index = 0.4\n"
                  "flow_index_low = 0.3\nflow_index_high = 0.5\n");
    std::string const path = scratch.write(
        "p.toml", "[material]\nuse = \"mix\"\nflow_index = 0.9\n" + std::string{machine_section});
    profile::Profile const p = profile::load(path);
    CHECK(p.material.flow_index == 0.9);
    CHECK(p.material.density_g_cm3 == 1.1);
    CHECK(p.sd.empty());
  }

  TEST_CASE("a new material displaces all that a base says of the old one") {
    Scratch const scratch;
    scratch.write("materials/mix.toml", "[material]\ndensity_g_cm3 = 1.1\n");
    scratch.write(
        "base.toml",
        "[material]\ndensity_g_cm3 = 1.5\nflow_index = 0.2\n" + std::string{machine_section});
    std::string const path =
        scratch.write("p.toml", "base = \"base.toml\"\n[material]\nuse = \"mix\"\n");
    CHECK(profile::load(path).material.density_g_cm3 == 1.1);
    CHECK_FALSE(profile::load(path).material.flow_index);
  }

  TEST_CASE("an unknown material names the known ones, and a path is no name") {
    Scratch const scratch;
    scratch.write("materials/mix.toml", "[material]\ndensity_g_cm3 = 1.1\n");
    scratch.write("materials/abs.toml", "[material]\ndensity_g_cm3 = 1.1\n");
    std::string const path = scratch.write("p.toml", "[material]\nuse = \"max\"\n");
    Error const error = error_of([&] { (void)profile::load(path); });
    CHECK(first_line(error) == path + ":2:7: there is no material 'max'");
    CHECK(error.hint().starts_with("known materials: abs, mix; "));
    scratch.write("p.toml", "[material]\nuse = \"../secret\"\n");
    CHECK(first_line(error_of([&] { (void)profile::load(path); })) ==
          path + ":2:7: [material] use is not the name of a material");
    std::string const empty = scratch.write("materials/mix.toml", "title = \"x\"\n");
    scratch.write("p.toml", "[material]\nuse = \"mix\"\n");
    CHECK(first_line(error_of([&] { (void)profile::load(path); })) ==
          empty + ": the section [material] is missing");
  }

  TEST_CASE("a profile may come through a pipe") {
    int ends[2];
    REQUIRE(pipe(ends) == 0);
    REQUIRE(write(ends[1], machine_section.data(), machine_section.size()) ==
            static_cast<ssize_t>(machine_section.size()));
    close(ends[1]);
    CHECK(profile::load("/dev/fd/" + std::to_string(ends[0])).limits.acceleration_mm_s2 == 800.0);
    close(ends[0]);
  }
}
