// SPDX-License-Identifier: MIT
// The predictor: run-on over time for a screw that turns as commanded.
#pragma once

#include "meltlag/melt/lag_law.hpp"
#include "meltlag/melt/nozzle_flow.hpp"
#include "meltlag/melt/supply.hpp"

namespace meltlag::melt {

// Between command and melt: what the E axis turns and what arrives.
struct Feed {
  double slicer_diameter_mm;      // filament diameter that the slicer computes with
  double delivered_factor = 1.0;  // delivered / commanded volume
  double backlash_mm = 0.0;       // E that turns without effect after each reversal
  double reverse_factor = 1.0;  // a reverse stroke relieves this share of what a forward one fills

  [[nodiscard]] double area_mm2() const;
  // What one mm of E delivers, forward.
  [[nodiscard]] double delivered_mm3_per_mm() const { return area_mm2() * delivered_factor; }
};

struct PlantParameters {
  LagLaw law;
  Feed feed;
  double leak_per_s = 0.0;   // back-leak, share of run-on per second
  SupplyLimits supply = {};  // what the screw can do; nothing said: all that is asked
  // Numerical, n ≠ 1 only: error of one step as a share of the volumes involved in its ramp.
  double step_error = 4e-9;
};

// A stretch of time in which the commanded volume rate (E speed · filament area, before delivered
// and reverse factor and backlash) is linear in time and of one sign. Durations ≤ 0 do nothing.
struct CommandedRamp {
  double duration_s;
  double commanded_start_mm3_s, commanded_end_mm3_s;  // both ≥ 0 or both ≤ 0
};

// Run-on, backlash and supply, advanced ramp by ramp. Exact for n = 1; otherwise error-controlled
// (with the default step_error, relative 1e-7 of the volumes involved). Volume is conserved to
// rounding: Δrun_on = delivered − out − leaked, delivered what the supply could bring.
class Plant {
 public:
  explicit Plant(PlantParameters const& parameters);

  // Set temperature in °C, NaN = not known.
  void set_temperature(double nozzle_c);
  // Advances; returns what leaves the nozzle, mm³.
  double advance(CommandedRamp const& ramp);
  // A wait of unknown length: run-on > 0 runs out uncounted, an empty nozzle stays empty, the store
  // fills. Returns what ran out.
  double run_out();

  [[nodiscard]] double run_on_mm3() const { return run_on_mm3_; }
  [[nodiscard]] double flow_mm3_s() const;
  // Backlash taken up in the forward direction, mm³ of command, 0 … backlash_mm · area.
  [[nodiscard]] double backlash_position_mm3() const { return backlash_position_mm3_; }
  void set_run_on(double mm3) { run_on_mm3_ = mm3; }
  // What is wound back, stands ready and was turned in vain.
  [[nodiscard]] Supply const& supply() const { return supply_; }

 private:
  double take_up_backlash(CommandedRamp const& ramp);
  double advance_delivered(Ramp const& delivered);
  double advance_fed(Ramp const& fed);
  PlantParameters parameters_;
  NozzleFlow flow_law_;  // of the law at the temperature now set
  Supply supply_;
  double run_on_mm3_ = 0;
  double backlash_mm3_ = 0;           // width of the dead zone, mm³ of command
  double backlash_position_mm3_ = 0;  // starts fully taken up forward, at backlash_mm3_
};

}  // namespace meltlag::melt
