// SPDX-License-Identifier: MIT
// Where the lag comes from: the shares of the machine's parts with their deviations, and the
// measured lag beside them.
//
// A screw that turns presses with p·A + F on what holds it: p the melt's pressure, A the area that
// it pushes on, F the friction of the plastic that softens round the screw. F turns round when the
// screw does: on a reversal everything that gives way moves by 2·F/k before the melt notices, and
// the screw turns A·2·F/k in vain.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/melt/parts.hpp"
#include "meltlag/melt/uncertain.hpp"

namespace meltlag::melt {

// A number of the machine by its key in a profile; nullptr where the key is none of its numbers or
// is not given.
[[nodiscard]] double* find_value(Machine& machine, std::string_view key);

struct VolumePart {
  std::string name;  // "18 mm of 12 mm bore", "tip gap"
  double mm3;
};

struct Cause {
  ShareKind kind;
  std::string name;  // of a part; empty for melt and air
  Uncertain run_on_mm3, lag_s;
  Uncertain share;          // of the whole run-on, 0 … 1
  double least_run_on_mm3;  // if the pressure pushed on the screw's own area only
  // Of parts; 0 for melt and air.
  Uncertain stiffness_n_per_mm, deflection_mm;
};

// A number whose deviation makes the run-on uncertain, and how much.
struct Doubt {
  std::string key;
  double run_on_sd_mm3;
};

struct WindUp {
  double friction_n;     // F
  double deflection_mm;  // 2·F·Σ 1/k
  double mm3;            // the volume that the screw turns in vain: A·give
};

struct Causes {
  double at_flow_mm3_s;
  PartsLag parts;                   // at that flow
  std::vector<VolumePart> volumes;  // computed; their sum is not the melt's where it was measured
  Uncertain melt_volume_mm3, pressure_mpa, thrust_n, run_on_mm3, lag_s;
  double entrance_mpa;        // the part of the pressure that the entrance of the hole takes
  double least_lag_s;         // if the pressure pushed on the screw's own area only
  std::vector<Cause> causes;  // as in parts.shares
  std::vector<Doubt> doubts;  // the largest first
  std::optional<WindUp> wind_up;
};

// `deviations` may hold keys of other things; they are passed over.
[[nodiscard]] Causes find_causes(Machine const& machine,
                                 Deviations const& deviations,
                                 double at_flow_mm3_s);

enum class Reading {
  explained,  // the measured run-on lies within what the parts explain, ± and area's range included
  more,       // something gives way that is not in the list
  less,       // a part is stiffer than given, or the melt thinner
  cannot_tell,  // no difference shows, but half of the run-on could be missing unseen
};

// The measured run-on beside what the parts explain, at one flow. Beyond two deviations of the
// difference and the range of the effective area nothing is called unexplained.
struct Finding {
  Uncertain measured_mm3;
  Uncertain parts_mm3;       // with the bore's area
  double least_parts_mm3;    // with the screw's own
  Uncertain difference_mm3;  // measured − parts
  Reading reading;
};

// A measured lag law; deviations of the run-on and the flow index.
struct MeasuredLag {
  LagLaw law;
  double run_on_sd_mm3, flow_index_sd;
  double correlation = 0;  // of these two errors, −1 … 1
};
[[nodiscard]] Uncertain run_on_at_flow(MeasuredLag const& measured, double flow_mm3_s);
// With a = sd S/S, b = sd n·(1/n + ln(Q/Qref)) and the correlation ρ: sd(τ)²/τ² = a² + 2ρ·a·b + b².
// Of the run-on the same with b = sd n·ln(Q/Qref).
[[nodiscard]] Uncertain lag_at_flow(MeasuredLag const& measured, double flow_mm3_s);

// What the parts make of two builds. A number that both have alike, value and deviation, is the
// same thing in both (the material, the barrel): its error shifts both and mostly cancels.
struct Build {
  Machine machine;
  Deviations deviations;
};
struct BuildDifference {  // new − old
  Uncertain melt_volume_mm3, pressure_mpa, thrust_n, run_on_mm3, lag_s;
};
[[nodiscard]] BuildDifference difference(Build const& old_build,
                                         Build const& new_build,
                                         double at_flow_mm3_s);

[[nodiscard]] Finding compare_with_measured(Causes const& causes, MeasuredLag const& measured);

}  // namespace meltlag::melt
