// SPDX-License-Identifier: MIT
// Pressure in a round hole against worked examples of textbooks.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "meltlag/base/vec.hpp"
#include "meltlag/melt/parts.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

struct Pipe {
  double diameter_mm, length_mm;
  double consistency_pa_sn, flow_index;
};

double drop_pa(Pipe const& pipe, double flow_mm3_s) {
  return 1e6 *
         nozzle_pressure_mpa({.diameter_mm = pipe.diameter_mm, .hole_length_mm = pipe.length_mm},
                             {.density_g_cm3 = 1,
                              .bulk_modulus_mpa = 1000,
                              .consistency_pa_sn = pipe.consistency_pa_sn,
                              .flow_index = pipe.flow_index},
                             flow_mm3_s);
}

}  // namespace

TEST_SUITE("melt") {
  // OpenStax, College Physics 2e, example 12.8: entry pressure of a needle, 1.62e4 Pa.
  TEST_CASE("water in a needle needs the pressure of the worked example") {
    double const entry_pa =
        1066 +
        drop_pa({.diameter_mm = 0.3, .length_mm = 25, .consistency_pa_sn = 1e-3, .flow_index = 1},
                120);
    CHECK_CLOSE(entry_pa, 1.62e4, 5e-3);
    CHECK_CLOSE(entry_pa, 16156.2, 1e-5);
  }

  // Geankoplis, Transport Processes and Unit Operations, example 2.10-1: 640 Pa.
  TEST_CASE("a capillary of two millimetres drops what the worked example says") {
    CHECK_CLOSE(drop_pa({2.22, 317, 1.13e-3, 1}, 1065), 640, 2e-3);
  }

  // Fox and McDonald, Introduction to Fluid Mechanics, example 8.4: viscosity 1.74e-3 Pa·s
  // (1.7e-3).
  TEST_CASE("a capillary viscometer reads the worked example's viscosity") {
    CHECK_CLOSE(drop_pa({0.5, 1000, 1.74316e-3, 1}, 880), 1e6, 1e-5);
    CHECK_CLOSE(1e6 / drop_pa({0.5, 1000, 1, 1}, 880), 0.0017, 3e-2);
  }

  // Geankoplis, example 3.5-1, generalised form K' = K·((3n+1)/(4n))^n: 45.39 kPa.
  TEST_CASE("a power-law fluid in a pipe drops what the generalised formula says") {
    double const n = 0.40;
    double const consistency = 15.23 / std::pow((3 * n + 1) / (4 * n), n);
    double const flow_mm3_s = 72.8 * meltlag::circle_area(52.4);
    CHECK_CLOSE(drop_pa({52.4, 14900, consistency, n}, flow_mm3_s), 45.39e3, 1e-3);
  }

  // de Nevers, Fluid Mechanics for Chemical Engineers, example 13.1: 61.3 Pa/m.
  TEST_CASE("a power-law fluid in a half-foot pipe drops 61.3 Pa per metre") {
    double const foot_mm = 1000 / 3.281;
    double const flow_mm3_s = foot_mm * meltlag::circle_area(0.5 * foot_mm);
    CHECK_CLOSE(drop_pa({0.5 * foot_mm, 1000, 0.66, 0.41}, flow_mm3_s), 61.3, 2e-3);
  }

  // Coulson and Richardson, Chemical Engineering vol. 1, example 3.11: 0.065 of the Newtonian flow.
  TEST_CASE("a shear-thinning fluid flows slower at the same pressure as its Newtonian twin") {
    double const consistency = 0.1 * std::pow(1000.0, 2.0 / 3);
    double const thin = std::pow(1e5 / drop_pa({25, 20000, consistency, 1.0 / 3}, 1), 3.0);
    double const newton = 1e5 / drop_pa({25, 20000, 0.1, 1}, 1);
    CHECK_CLOSE(thin / newton, 0.065, 5e-3);
    CHECK_CLOSE(thin / newton, 0.0651042, 1e-6);
  }

  // Imperial College London, ME4 Polymer Processing Technology, solutions, problem 3.1: 290 MPa/m.
  TEST_CASE("polymer melt in a die of three millimetres drops 290 MPa per metre") {
    CHECK_CLOSE(drop_pa({3, 1000, 16e3, 0.3}, 1e4), 290e6, 2e-3);
  }

  TEST_CASE("pressure grows with the flow index's power of the flow") {
    Pipe const pipe{0.8, 3, 9000, 0.35};
    CHECK_CLOSE(drop_pa(pipe, 12) / drop_pa(pipe, 3), std::pow(4, 0.35), 1e-13);
    CHECK(drop_pa(pipe, 0) == 0);
    CHECK(drop_pa(pipe, -1) == 0);
  }
}
