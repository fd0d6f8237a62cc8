// SPDX-License-Identifier: MIT
#include "meltlag/melt/changes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/vec.hpp"
#include "meltlag/melt/temperature.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;
using meltlag::circle_area;

namespace {

WhatIf short_auger() {
  return {.machine = {.barrel = {.sections = {{.length_mm = 18, .bore_mm = 12, .screw_core_mm = 9}},
                                 .tip_gap_mm = 1.5,
                                 .screw_diameter_mm = 11.8},
                      .nozzle = {.diameter_mm = 1.0, .hole_length_mm = 1.5},
                      .parts = {{.name = "bracket", .n_per_mm = 1500},
                                {.name = "plate", .deflection_mm = 0.005, .at_flow_mm3_s = 5}},
                      .material = {.density_g_cm3 = 1.24,
                                   .bulk_modulus_mpa = 1000,
                                   .consistency_pa_sn = 4260,
                                   .flow_index = 0.69,
                                   .activation_kj_mol = 60}},
          .measured = {},
          .at_flow_mm3_s = 5,
          .melt_c = 205};
}

LagLaw law(double run_on_mm3) {
  return {.run_on_mm3 = run_on_mm3,
          .at_flow_mm3_s = 4,
          .flow_index = 0.6,
          .at_c = {},
          .activation_kj_mol = {}};
}

Change named(std::vector<Change> const& changes, std::string const& name) {
  auto const found = std::ranges::find(changes, name, &Change::name);
  REQUIRE(found != changes.end());
  return *found;
}

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("a part twice as stiff takes half of its share from the lag") {
    WhatIf const what = short_auger();
    PartsLag const parts = lag_from_parts(what.machine, 5);
    Change const now = as_it_is(what);
    CHECK_CLOSE(now.lag_s, lag_s(parts.law, 5), 1e-12);
    CHECK(now.lag_change_s == 0);
    Change const stiff = named(plain_changes(what), "bracket twice as stiff");
    CHECK_CLOSE(stiff.run_on_mm3, parts.law.run_on_mm3 - parts.shares[1].run_on_mm3 / 2, 1e-12);
    CHECK_CLOSE(stiff.lag_s / now.lag_s, stiff.run_on_mm3 / now.run_on_mm3, 1e-12);
    CHECK(stiff.pressure_mpa == now.pressure_mpa);
    CHECK((stiff.kind == ChangeKind::stiffer));
    Change const rigid = named(plain_changes(what), "bracket as if rigid");
    CHECK((rigid.kind == ChangeKind::rigid));
    CHECK_CLOSE(rigid.run_on_mm3, parts.law.run_on_mm3 - parts.shares[1].run_on_mm3, 1e-4);
  }

  TEST_CASE("a wider nozzle lowers the pressure and leaves stiffnesses alone, also read ones") {
    WhatIf const what = short_auger();
    Change const now = as_it_is(what), wide = named(plain_changes(what), "nozzle of 1.2 mm");
    double const factor = std::pow(1.2, -(3 * 0.69 + 1));
    CHECK_CLOSE(wide.pressure_mpa, factor * now.pressure_mpa, 1e-12);
    CHECK_CLOSE(wide.run_on_mm3, factor * now.run_on_mm3, 1e-12);
    CHECK_CLOSE(wide.thrust_n, factor * now.thrust_n, 1e-12);
    CHECK(wide.mean_residence_s == now.mean_residence_s);
  }

  TEST_CASE("a shorter hot section and a halved gap shorten the residence time by their volumes") {
    WhatIf const what = short_auger();
    Change const now = as_it_is(what);
    Change const shorter = named(plain_changes(what), "hot section 5 mm shorter");
    CHECK_CLOSE(now.melt_volume_mm3 - shorter.melt_volume_mm3,
                5 * (circle_area(12) - circle_area(9)),
                1e-12);
    Change const gap = named(plain_changes(what), "tip gap halved");
    CHECK_CLOSE(now.mean_residence_s - gap.mean_residence_s, 0.75 * circle_area(12) / 5, 1e-12);
    CHECK(gap.lag_change_s < 0);
  }

  TEST_CASE("hotter melt scales run-on and thrust with its consistency") {
    WhatIf what = short_auger();
    Change const now = as_it_is(what), hot = named(plain_changes(what), "melt 10 °C hotter");
    double const factor = viscosity_factor({.activation_kj_mol = 60, .from_c = 205, .to_c = 215});
    CHECK_CLOSE(hot.run_on_mm3, factor * now.run_on_mm3, 1e-12);
    what.melt_c.reset();
    for (Change const& change : plain_changes(what)) CHECK(change.name != "melt 10 °C hotter");
  }

  TEST_CASE("of a measured lag only what the parts explain changes") {
    WhatIf what = short_auger();
    PartsLag const parts = lag_from_parts(what.machine, 4);
    double const bracket = parts.shares[1].run_on_mm3;
    what.measured = law(parts.law.run_on_mm3 + 2);
    CHECK(as_it_is(what).law.run_on_mm3 == what.measured->run_on_mm3);
    CHECK_CLOSE(named(plain_changes(what), "bracket twice as stiff").law.run_on_mm3,
                what.measured->run_on_mm3 - bracket / 2,
                1e-12);
    // Less measured than the parts make: their shares are scaled down, never below nothing.
    what.measured = law(parts.law.run_on_mm3 / 2);
    CHECK_CLOSE(named(plain_changes(what), "bracket twice as stiff").law.run_on_mm3,
                what.measured->run_on_mm3 - bracket / 4,
                1e-12);
    CHECK(as_it_is(what).law.flow_index == 0.6);
  }

  TEST_CASE("small changes come with the most helpful first and agree with the derivative") {
    WhatIf const what = short_auger();
    auto const changes = small_changes(what);
    for (std::size_t i = 1; i < changes.size(); ++i)
      CHECK(changes[i - 1].lag_change_s <= changes[i].lag_change_s);
    PartsLag const parts = lag_from_parts(what.machine, 5);
    double const bracket_lag = 0.69 * parts.shares[1].run_on_mm3 / 5;
    CHECK_CLOSE(
        named(changes, "bracket 10 % stiffer").lag_change_s, bracket_lag * (1 / 1.1 - 1), 1e-9);
  }
}
