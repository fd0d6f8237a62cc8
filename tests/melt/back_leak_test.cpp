// SPDX-License-Identifier: MIT
#include "meltlag/melt/back_leak.hpp"

#include <doctest/doctest.h>

#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

// The screw of Groover, Fundamentals of Modern Manufacturing, example 13.1 (from memory): 75 mm,
// channel 6 mm, flight angle 20°, 1.9 m, 100 Pa·s; at 7 MPa 18 276 mm³/s flow back.
Machine long_screw() {
  return {.barrel = {.sections = {{.length_mm = 1900, .bore_mm = 75, .screw_core_mm = 63}},
                     .screw_diameter_mm = 75,
                     .screw_pitch_mm = 85.7577},  // π·75·tan 20°
          .nozzle = {.diameter_mm = 6.5, .hole_length_mm = 20},
          .parts = {},
          .material = {.density_g_cm3 = 0.9,
                       .bulk_modulus_mpa = 1000,
                       .consistency_pa_sn = 100,
                       .flow_index = 1}};
}

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("a long shallow channel full of Newtonian melt gets the textbook's figure") {
    Machine machine = long_screw();
    double const per_mm3_s = nozzle_pressure_mpa(machine.nozzle, machine.material, 1);
    BackLeak const leak = back_leak(machine, 7.0 / per_mm3_s);
    CHECK(leak.because.empty());
    REQUIRE(leak.mm3_s);
    CHECK_CLOSE(*leak.mm3_s, 18276, 1e-3);
  }

  TEST_CASE("outside the formula's validity there is no figure but the reason") {
    auto const reasons = [](auto change) {
      Machine machine = long_screw();
      change(machine);
      BackLeak const leak = back_leak(machine, 5);
      CHECK_FALSE(leak.mm3_s);
      return leak.because.size();
    };
    CHECK(reasons([](Machine& m) { m.barrel.sections[0].length_mm = 100; }) == 1);
    CHECK(reasons([](Machine& m) { m.barrel.sections[0].screw_core_mm = 55; }) == 1);
    CHECK(reasons([](Machine& m) { m.material.flow_index = 0.4; }) == 1);
    CHECK(reasons([](Machine& m) { m.barrel.screw_pitch_mm.reset(); }) == 1);
    CHECK(reasons([](Machine& m) {
            m.material.flow_index = 0.4;
            m.barrel.sections[0].length_mm = 100;
          }) == 2);
  }
}
