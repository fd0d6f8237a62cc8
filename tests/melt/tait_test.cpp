// SPDX-License-Identifier: MIT
#include "meltlag/melt/tait.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

TaitMelt const& melt_named(std::string_view name) {
  auto const melts = tait_melts();
  auto const found = std::ranges::find(melts, name, &TaitMelt::name);
  REQUIRE(found != melts.end());
  return *found;
}

}  // namespace

TEST_SUITE("melt") {
  // Danner and High, Handbook of Polymer Solution Thermodynamics, p. 39.
  TEST_CASE("PMMA at 159 °C has the specific volumes of the handbook's worked example") {
    TaitMelt const& pmma = melt_named("PMMA");
    CHECK_CLOSE(tait_specific_volume_cm3_g(pmma, {0, 159}), 0.89019, 1e-4);
    CHECK_CLOSE(tait_specific_volume_cm3_g(pmma, {200, 159}), 0.82232, 1e-4);
    double const compressibility_mpa = 1 / tait_bulk_modulus_mpa(pmma, {200, 159});
    CHECK_CLOSE(1e-6 * compressibility_mpa, 2.7765e-10, 1e-4);
  }

  // Derived from the coefficients of Danner and High, table 3B-1.
  TEST_CASE("density and bulk modulus follow from the handbook's coefficients") {
    struct Row {
      char const* name;
      double t_c, density_kg_m3, modulus_gpa, density_20_kg_m3, modulus_20_gpa;
    };
    Row const rows[] = {
        {"HDPE", 190, 759.379, 0.814317, 776.224, 1.01550},
        {"LDPE", 190, 757.502, 0.810898, 774.368, 1.01208},
        {"PP", 200, 751.484, 0.712880, 770.280, 0.913741},
        {"PP", 230, 737.919, 0.631919, 758.469, 0.832449},
        {"PS", 190, 975.545, 1.26351, 989.973, 1.46555},
        {"PC", 280, 1066.30, 1.14990, 1083.52, 1.35178},
        {"PA", 250, 1124.78, 1.47088, 1139.20, 1.67314},
        {"POM", 200, 1025.56, 1.42103, 1039.14, 1.62324},
    };
    for (Row const& row : rows) {
      CAPTURE(row.name);
      TaitMelt const& melt = melt_named(row.name);
      CHECK_CLOSE(1000 * tait_density_g_cm3(melt, {0, row.t_c}), row.density_kg_m3, 1e-5);
      CHECK_CLOSE(tait_bulk_modulus_mpa(melt, {0, row.t_c}), 1000 * row.modulus_gpa, 1e-5);
      CHECK_CLOSE(1000 * tait_density_g_cm3(melt, {20, row.t_c}), row.density_20_kg_m3, 1e-5);
      CHECK_CLOSE(tait_bulk_modulus_mpa(melt, {20, row.t_c}), 1000 * row.modulus_20_gpa, 1e-5);
    }
  }

  TEST_CASE("the bulk modulus is what the specific volume's slope over pressure says") {
    for (TaitMelt const& melt : tait_melts()) {
      double const t = (melt.from_c + melt.to_c) / 2, p = 15, step = 1e-3;
      double const v = tait_specific_volume_cm3_g(melt, {p, t});
      double const slope = (tait_specific_volume_cm3_g(melt, {p + step, t}) -
                            tait_specific_volume_cm3_g(melt, {p - step, t})) /
                           (2 * step);
      CHECK_CLOSE(tait_bulk_modulus_mpa(melt, {p, t}), -v / slope, 1e-7);
    }
  }
}
