// SPDX-License-Identifier: MIT
#include "meltlag/melt/parts.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "meltlag/base/error.hpp"
#include "meltlag/base/vec.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;
using meltlag::circle_area;

namespace {

// The bench auger that prints seed-tray feet from shredded offcuts.
Machine offcuts_auger() {
  return {.barrel = {.sections = {{.length_mm = 40, .bore_mm = 14, .screw_core_mm = 8},
                                  {.length_mm = 60, .bore_mm = 12, .screw_core_mm = 9}},
                     .tip_gap_mm = 3,
                     .screw_diameter_mm = 11.6},
          .nozzle = {.diameter_mm = 0.8, .hole_length_mm = 2.5},
          .parts = {{.name = "printed bracket", .n_per_mm = 900},
                    {.name = "gearbox plate", .n_per_mm = 4000}},
          .material = {.density_g_cm3 = 1.1,
                       .bulk_modulus_mpa = 1200,
                       .consistency_pa_sn = 9000,
                       .flow_index = 0.35,
                       .at_c = 200,
                       .activation_kj_mol = 80}};
}

template <class Change>
meltlag::Error error_of(Change change) {
  Machine machine = offcuts_auger();
  change(machine);
  try {
    (void)lag_from_parts(machine, 5);
  } catch (meltlag::Error const& error) {
    return error;
  }
  return meltlag::Error("no error was thrown");
}

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("the melt volume is the stepped bore less the screw's core plus the gap at its tip") {
    double const quarter = std::numbers::pi / 4;
    double const expected = quarter * (40 * (196 - 64) + 60 * (144 - 81) + 3 * 144);
    CHECK_CLOSE(melt_volume_mm3(offcuts_auger().barrel), expected, 1e-14);
  }

  TEST_CASE("a measured melt volume beats the reckoned one") {
    Barrel barrel = offcuts_auger().barrel;
    barrel.melt_volume_mm3 = 5000;
    CHECK(melt_volume_mm3(barrel) == 5000);
  }

  TEST_CASE("the thrust area is the bore where the screw ends, at least the screw's own") {
    Barrel barrel = offcuts_auger().barrel;
    CHECK(thrust_area(barrel).bore_mm2 == circle_area(12));
    CHECK(thrust_area(barrel).screw_mm2 == circle_area(11.6));
    barrel.sections.push_back({.length_mm = 10, .bore_mm = 4, .screw_core_mm = 0});
    CHECK(thrust_area(barrel).bore_mm2 == circle_area(12));
    barrel.screw_diameter_mm.reset();
    CHECK(thrust_area(barrel).screw_mm2 == circle_area(9));
  }

  TEST_CASE("the run-on of the parts is compliance times pressure, and each share adds up") {
    PartsLag const lag = lag_from_parts(offcuts_auger(), 5);
    CHECK_CLOSE(lag.law.run_on_mm3,
                lag.compliance_mm3_mpa * lag.nozzle_constant * std::pow(5, 0.35),
                1e-13);
    CHECK_CLOSE(lag.thrust_n, lag.pressure_mpa * circle_area(12), 1e-14);
    CHECK_CLOSE(pressure_at_run_on_mpa(lag, lag.law.run_on_mm3), lag.pressure_mpa, 1e-14);
    double const area2 = circle_area(12) * circle_area(12);
    double const c = lag.melt_volume_mm3 / 1200 + area2 / 900 + area2 / 4000;
    CHECK_CLOSE(lag.compliance_mm3_mpa, c, 1e-14);
    double run_on = 0;
    for (Share const& share : lag.shares) {
      run_on += share.run_on_mm3;
    }
    CHECK_CLOSE(run_on, lag.law.run_on_mm3, 1e-14);
    CHECK(lag.law.at_flow_mm3_s == 5);
    CHECK(lag.law.flow_index == 0.35);
  }

  TEST_CASE("a smaller area that the pressure pushes on explains less run-on") {
    PartsLag const lag = lag_from_parts(offcuts_auger(), 5);
    double const ratio2 = std::pow(11.6 / 12, 4);
    double const parts = lag.shares.at(1).run_on_mm3 + lag.shares.at(2).run_on_mm3;
    CHECK_CLOSE(lag.least_run_on_mm3, lag.shares.at(0).run_on_mm3 + ratio2 * parts, 1e-13);
  }

  // B. K. Sarkar, Strength of Materials, problem 8.7: springs of 2500 and 1011.24 N/m in series
  // make 720 N/m.
  TEST_CASE("parts that hold the screw one after the other add up like springs in series") {
    Machine machine = offcuts_auger();
    machine.parts = {{.name = "one", .n_per_mm = 2.5}, {.name = "two", .n_per_mm = 1.01124}};
    PartsLag const lag = lag_from_parts(machine, 5);
    double const deflection = lag.shares.at(1).mm3_per_mpa + lag.shares.at(2).mm3_per_mpa;
    CHECK_CLOSE(circle_area(12) * circle_area(12) / deflection, 0.720, 5e-3);
  }

  // Esposito, Fluid Power with Applications, example 17.2: oil on both sides of a piston of 32.3
  // cm² is a spring of 2·B·A²/V that swings 450 kg at 260.65 rad/s.
  TEST_CASE("trapped fluid is as stiff as the worked example's oil spring") {
    Machine machine = offcuts_auger();
    machine.barrel.melt_volume_mm3 = 819e3;
    machine.material.bulk_modulus_mpa = 1200;
    double const c = lag_from_parts(machine, 5).shares.at(0).mm3_per_mpa;
    double const stiffness_n_m = 2 * 1000 * 3230.0 * 3230.0 / c;
    CHECK_CLOSE(stiffness_n_m, 3.05726e7, 1e-5);
    CHECK_CLOSE(std::sqrt(stiffness_n_m / 450), 260.651, 1e-5);
  }

  TEST_CASE("a deflection read by a dial gauge is a stiffness at the pressure of that flow") {
    Machine machine = offcuts_auger();
    Part const gauge{.name = "bracket", .deflection_mm = 0.4, .at_flow_mm3_s = 3};
    double const p = nozzle_pressure_mpa(machine.nozzle, machine.material, 3);
    CHECK_CLOSE(stiffness_n_per_mm(gauge, machine), p * circle_area(12) / 0.4, 1e-14);
    machine.parts = {gauge};
    PartsLag const lag = lag_from_parts(machine, 3);
    CHECK_CLOSE(lag.shares.at(1).run_on_mm3, 0.4 * circle_area(12), 1e-13);
    double const with_screw_area = lag.shares.at(0).run_on_mm3 + 0.4 * circle_area(11.6);
    CHECK_CLOSE(lag.least_run_on_mm3, with_screw_area, 1e-13);
  }

  TEST_CASE("trapped air stores what isothermal compression takes from it") {
    Machine machine = offcuts_auger();
    machine.barrel.air_mm3 = 50;
    PartsLag const lag = lag_from_parts(machine, 5);
    double const squeezed = 50 * atmosphere_mpa / (lag.pressure_mpa + atmosphere_mpa);
    CHECK_CLOSE(lag.shares.at(3).run_on_mm3, 50 - squeezed, 1e-13);
    CHECK((lag.shares.at(3).kind == ShareKind::air));
  }

  TEST_CASE("impossible parts are errors that name the key and what to do") {
    struct Row {
      char const* key;
      void (*change)(Machine&);
    };
    Row const rows[] = {
        {"[barrel] sections", [](Machine& m) { m.barrel.sections.clear(); }},
        {"[barrel] sections", [](Machine& m) { m.barrel.sections[1].screw_core_mm = 12; }},
        {"[barrel] sections[1].length_mm", [](Machine& m) { m.barrel.sections[0].length_mm = 0; }},
        {"[barrel] sections[2].bore_mm", [](Machine& m) { m.barrel.sections[1].bore_mm = -1; }},
        {"[barrel] tip_gap_mm", [](Machine& m) { m.barrel.tip_gap_mm = -1; }},
        {"[barrel] screw_diameter_mm", [](Machine& m) { m.barrel.screw_diameter_mm = 12.5; }},
        {"[barrel] air_mm3", [](Machine& m) { m.barrel.air_mm3 = std::nan(""); }},
        {"[barrel] melt_volume_mm3", [](Machine& m) { m.barrel.melt_volume_mm3 = 0; }},
        {"[nozzle] diameter_mm", [](Machine& m) { m.nozzle.diameter_mm = 0; }},
        {"[nozzle] hole_length_mm", [](Machine& m) { m.nozzle.hole_length_mm = 0; }},
        {"[material] bulk_modulus_mpa", [](Machine& m) { m.material.bulk_modulus_mpa = 0; }},
        {"[material] flow_index", [](Machine& m) { m.material.flow_index = 0; }},
        {"[mechanics] parts \"gearbox plate\"", [](Machine& m) { m.parts[1].deflection_mm = 0.2; }},
        {"[mechanics] parts \"gearbox plate\"", [](Machine& m) { m.parts[1].n_per_mm.reset(); }},
        {"[mechanics] parts \"printed bracket\" n_per_mm",
         [](Machine& m) { m.parts[0].n_per_mm = 0; }},
    };
    for (Row const& row : rows) {
      CAPTURE(row.key);
      meltlag::Error const error = error_of(row.change);
      CHECK(error.where().file == row.key);
      CHECK_FALSE(error.hint().empty());
    }
  }

  // Derived: 1.2 cm³ at 20 mm³/s.
  TEST_CASE("melt stays for its volume over its flow") {
    CHECK(mean_residence_s(1200, 20) == 60);
    CHECK(std::isinf(mean_residence_s(1200, 0)));
  }

  // By hand: W = C·p, the lower of what melt and screw bear.
  TEST_CASE("the greatest run-on is that at the pressure both melt and screw bear") {
    PartsLag const lag = lag_from_parts(offcuts_auger(), 5);
    double const c = lag.compliance_mm3_mpa;
    CHECK_FALSE(greatest_run_on_mm3(lag, {}).has_value());
    CHECK_CLOSE(greatest_run_on_mm3(lag, {.max_pressure_mpa = 20, .max_thrust_n = {}}).value(),
                20 * c,
                1e-12);
    double const thrust = 10 * lag.area.bore_mm2;  // at 10 MPa
    CHECK_CLOSE(greatest_run_on_mm3(lag, {.max_pressure_mpa = 20, .max_thrust_n = thrust}).value(),
                10 * c,
                1e-12);
  }
}
