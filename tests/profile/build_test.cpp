// SPDX-License-Identifier: MIT
// The tube, single prints, mixes: what tells builds and their causes.
#include <doctest/doctest.h>

#include <cmath>

#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"
#include "support/near.hpp"

using namespace meltlag;

namespace {

constexpr std::string_view tube = R"([barrel]
sections = [{ length_mm = 18, bore_mm = 12, screw_core_mm = 9 }]
tip_gap_mm = 1
hot_end_c = 205
hot_end_c_sd = 3
cold_end_c = 45
screw_material = "stainless"
[[barrel.tube]]
length_mm = 3
inner_mm = 12
outer_mm = 24
material = "aluminium"
[[barrel.tube]]
length_mm = 12
inner_mm = 12
outer_mm = 14
screw_core_mm = 8
conductivity_w_m_k = 15
conductivity_w_m_k_sd = 2
[material]
density_g_cm3 = 1.24
softens_c = 165
conductivity_w_m_k = 0.13
heat_capacity_j_g_k = 1.8
)";

profile::Profile parse(std::string text) {
  return profile::parse(text + std::string{machine_section}, "p.toml");
}

std::string replaced(std::string text, std::string const& what, std::string const& by) {
  auto const at = text.find(what);
  REQUIRE(at != std::string::npos);
  return text.replace(at, what.size(), by);
}

profile::Profile mixed(std::string const& mix) {
  std::string const text = "[material]\n" + mix + "\n" + std::string{machine_section};
  return profile::parse(
      text, "p.toml", {.share_dir = std::string{MELTLAG_SOURCE_DIR} + "/profiles"});
}

bool contains(Error const& error, std::string_view words) {
  return std::string_view{error.what()}.find(words) != std::string_view::npos;
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("a tube is read in steps, with conductivities by name or as numbers") {
    profile::Profile const p = parse(std::string{tube});
    REQUIRE(p.heat_barrier);
    CHECK(p.barrier_lacks.empty());
    auto const& steps = p.heat_barrier->steps;
    REQUIRE(steps.size() == 2);
    CHECK(steps[0].conductivity_w_m_k == melt::find_conductor("aluminium")->w_m_k);
    CHECK(steps[0].screw_core_mm == 9);
    CHECK(steps[1].conductivity_w_m_k == 15);
    CHECK(steps[1].screw_core_mm == 8);
    CHECK(p.sd.at("barrel.hot_end_c") == 3);
    CHECK(p.sd.at("barrel.tube[1].conductivity_w_m_k") == 2);
    CHECK_CLOSE(p.sd.at("barrel.tube[0].conductivity_w_m_k"), (237 - 120) / std::sqrt(12.0), 1e-12);
    CHECK_CLOSE(p.barrel->tube_melt_mm3, melt::barrier_state(*p.heat_barrier, 5).melt_mm3, 1e-12);
    CHECK(p.sd.at("barrel.tube_melt_mm3") > 0);
    melt::Barrel below = *p.barrel;
    below.tube_melt_mm3 = 0;
    CHECK_CLOSE(melt::melt_volume_mm3(*p.barrel) - melt::melt_volume_mm3(below),
                p.barrel->tube_melt_mm3,
                1e-9);
  }

  TEST_CASE("a measured melt volume holds what is in the tube too") {
    profile::Profile const p = parse(
        replaced(std::string{tube}, "tip_gap_mm = 1", "tip_gap_mm = 1\nmelt_volume_mm3 = 1300"));
    CHECK(p.barrel->tube_melt_mm3 == 0);
    CHECK(melt::melt_volume_mm3(*p.barrel) == 1300);
    CHECK(p.heat_barrier);
  }

  TEST_CASE("what a tube still lacks is reported, and the profile is good for all else") {
    profile::Profile const p = parse(replaced(std::string{tube}, "softens_c = 165\n", ""));
    CHECK_FALSE(p.heat_barrier);
    CHECK(p.barrier_lacks == std::vector<std::string>{"[material] softens_c"});
    CHECK(p.barrel->tube_melt_mm3 == 0);
  }

  TEST_CASE("an impossible tube is an error with its place and what to do") {
    struct Row {
      char const *what, *by, *says;
    };
    Row const rows[] = {
        {"outer_mm = 24", "outer_mm = 11", "11 mm wide outside and 12 mm inside"},
        {"\"aluminium\"", "\"unobtainium\"", "known: stainless, steel"},
        {"material = \"aluminium\"\n", "", "to be given, or conductivity_w_m_k"},
        {"screw_core_mm = 8", "screw_core_mm = 12.5", "does not fit a tube of 12 mm"},
        {"hot_end_c = 205", "hot_end_c = 20", "is not hotter than the cold end"},
        {"screw_material = \"stainless\"\n", "", "screw_material is missing"},
        {"length_mm = 12\n", "", "length_mm is missing"},
        {"inner_mm = 12\nouter_mm = 14", "iner_mm = 12\nouter_mm = 14", "'inner_mm'"},
    };
    for (Row const& row : rows) {
      CAPTURE(std::string{row.what});
      Error const error =
          error_of([&] { (void)parse(replaced(std::string{tube}, row.what, row.by)); });
      CHECK(contains(error, row.says));
      CHECK(error.where().line > 0);
      CHECK_FALSE(error.hint().empty());
    }
  }

  TEST_CASE("single prints are read in their order and belong to their own build only") {
    Scratch const scratch;
    std::string const prints = R"(date = "2026-05-01"
[[measured]]
date = "2026-05-02"
run_on_mm3 = 4.8
blob_mm3 = 0.4
[[measured]]
run_on_mm3 = 5.2
at_flow_mm3_s = 6
gap_mm = 2
lag_s = 0.7
notes = "wet"
[lag]
run_on_mm3 = 5
at_flow_mm3_s = 5
flow_index = 0.6
)";
    scratch.write("old.toml", prints + std::string{machine_section});
    profile::Profile const p = profile::load(scratch.path("old.toml"));
    CHECK(p.date == "2026-05-01");
    REQUIRE(p.measured.size() == 2);
    CHECK(p.measured[0].date == "2026-05-02");
    CHECK(p.measured[0].run_on_mm3 == 4.8);
    CHECK_FALSE(p.measured[0].gap_mm);
    CHECK(p.measured[1].at_flow_mm3_s == 6.0);
    CHECK(p.measured[1].lag_s == 0.7);
    CHECK(p.measured[1].notes == "wet");
    profile::Profile const next =
        profile::load(scratch.write("new.toml", "base = \"old.toml\"\n[lag]\nrun_on_mm3 = 2\n"));
    CHECK(next.measured.empty());
    CHECK(next.date.empty());
    CHECK(next.measured_lag->flow_index == 0.6);
  }

  TEST_CASE("a print without a number, or without a flow, is an error that says what to type") {
    CHECK(contains(error_of([] { (void)parse("[[measured]]\ndate = \"2026-05-02\"\n"); }),
                   "holds no measurement"));
    CHECK(contains(error_of([] { (void)parse("[[measured]]\nrun_on_mm3 = 5\n"); }),
                   "stands without a flow"));
    CHECK(contains(error_of([] { (void)parse("[[measured]]\nrun_off_mm3 = 5\n"); }),
                   "the nearest known key is 'run_on_mm3'"));
    CHECK(contains(error_of([] { (void)parse("[[measured]]\nblob_mm3 = -1\n"); }),
                   "[measured[0]] blob_mm3 is -1"));
    CHECK(contains(error_of([] { (void)parse("[measured]\nblob_mm3 = 1\n"); }), "a list"));
  }

  TEST_CASE("friction and entrance reach the machine of the parts") {
    profile::Profile const p =
        profile::load(std::string{MELTLAG_SOURCE_DIR} + "/profiles/bench-auger-printed.toml");
    CHECK(profile::parts_machine(p)->friction_n == 0);
    profile::Profile const own = parse(
        "[mechanics]\nfriction_n = 25\nfriction_n_sd = 5\nparts = [{ name = \"a\", n_per_mm = 9 "
        "}]\n[nozzle]\ndiameter_mm = 1\nhole_length_mm = 2\nentrance_mm = 0.4\n");
    CHECK(own.friction_n == 25);
    CHECK(own.sd.at("mechanics.friction_n") == 5);
    CHECK(own.nozzle->entrance_mm == 0.4);
  }

  TEST_CASE("a mix adds volumes, compresses in parallel and takes the logarithm of consistencies") {
    profile::Profile const p =
        mixed("mix = [{ use = \"pla\", parts = 3 }, { use = \"pp\", parts = 1 }]");
    CHECK(p.material.name == "3 pla + 1 pp");
    double const density = 1 / (0.75 / 1.24 + 0.25 / 0.905);
    CHECK_CLOSE(*p.material.density_g_cm3, density, 1e-12);
    double const pla = 0.75 * density / 1.24;
    CHECK_CLOSE(*p.material.bulk_modulus_mpa, 1 / (pla / 1000 + (1 - pla) / 810), 1e-12);
    CHECK_CLOSE(*p.material.consistency_pa_sn,
                std::exp(0.75 * std::log(4260) + 0.25 * std::log(7500)),
                1e-12);
    CHECK_CLOSE(*p.material.flow_index, 0.75 * 0.69 + 0.25 * 0.38, 1e-12);
    CHECK_FALSE(p.material.at_c);  // PLA's is not known
    // The range spans both: 0.32 … 0.69 of PLA, 0.33 … 0.43 of PP.
    CHECK_CLOSE(p.sd.at("material.flow_index"), (0.69 - 0.32) / std::sqrt(12.0), 1e-12);
    CHECK_CLOSE(p.sd.at("material.consistency_pa_sn"), (15000 - 2130) / std::sqrt(12.0), 1e-12);
  }

  TEST_CASE("a mix withstands heat as long as the shortest of its parts and invents nothing") {
    Scratch const scratch;
    scratch.write("materials/a.toml",
                  "[material]\ndensity_g_cm3 = 1\nlongest_residence_s = 900\nsticks_c = 60\n");
    scratch.write("materials/b.toml",
                  "[material]\ndensity_g_cm3 = 1\nlongest_residence_s = 300\nsticks_c = 135\n");
    scratch.write("materials/c.toml", "[material]\ndensity_g_cm3 = 1\nflow_index = 0.5\n");
    auto const loaded = [&](std::string const& mix) {
      return profile::load(
          scratch.write("p.toml", "[material]\n" + mix + "\n" + std::string{machine_section}));
    };
    profile::Profile const ab =
        loaded("mix = [{ use = \"a\", parts = 9 }, { use = \"b\", parts = 1 }]");
    CHECK(ab.material.longest_residence_s == 300.0);
    // The one that sticks first glues the other, but for a trace of it.
    CHECK(ab.material.sticks_c == 60.0);
    CHECK(loaded("mix = [{ use = \"a\", parts = 1 }, { use = \"b\", parts = 19 }]")
              .material.sticks_c == 135.0);
    profile::Profile const ac =
        loaded("mix = [{ use = \"a\", parts = 9 }, { use = \"c\", parts = 1 }]");
    CHECK(ac.material.longest_residence_s == 900.0);
    CHECK_FALSE(ac.material.flow_index);
    CHECK(loaded("mix = [{ use = \"a\", parts = 1 }]\nlongest_residence_s = 60")
              .material.longest_residence_s == 60.0);
    for (char const* wrong : {"mix = []",
                              "mix = \"a\"",
                              "mix = [{ use = \"a\" }]",
                              "mix = [{ use = \"a\", parts = 0 }]",
                              "mix = [{ use = \"zz\", parts = 1 }]",
                              "use = \"a\"\nmix = [{ use = \"a\", parts = 1 }]"}) {
      CAPTURE(std::string{wrong});
      Error const error = error_of([&] { (void)loaded(wrong); });
      CHECK(error.where().line > 0);
      CHECK_FALSE(error.hint().empty());
    }
  }
}
