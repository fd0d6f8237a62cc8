// SPDX-License-Identifier: MIT
// A profile: everything Meltlag knows about one machine, read from a TOML file. The room only fills
// the parameter structs that other rooms own.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/melt/heat_barrier.hpp"
#include "meltlag/melt/lag_law.hpp"
#include "meltlag/melt/parts.hpp"
#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/limits.hpp"
#include "meltlag/schedule/robust.hpp"

namespace meltlag::profile {

// How the printer takes in moves, beside its motion limits.
struct Machine {
  double shortest_cut_ms = 20;
  int buffer_moves = 16;
  std::optional<double> max_lines_per_s;
  double min_speed_mm_s = 0;
  bool g91_covers_e = true;
};

// What the machine must not be asked for. Absent: not known.
struct Bounds {
  std::optional<double> max_flow_mm3_s;    // the most the screw feeds for long
  std::optional<double> burst_mm3;         // melt that is ready for a burst above it
  std::optional<double> max_burst_mm3_s;   // the most it feeds in a burst
  std::optional<double> max_pressure_mpa;  // of the melt before the nozzle
  std::optional<double> max_thrust_n;      // of the screw
  double cold_below_c = 170;               // nothing is added below this set temperature
};

// [material] as far as it is known. The units are those of melt::Material.
struct MaterialFacts {
  std::string name;  // what `use` said, else empty
  std::optional<double> density_g_cm3, bulk_modulus_mpa, consistency_pa_sn, flow_index;
  std::optional<double> at_c, activation_kj_mol, longest_residence_s;
  std::optional<double> sticks_c, softens_c, conductivity_w_m_k, heat_capacity_j_g_k;
};

// [[measured]]: what one print on this build showed. At least one of the numbers is given.
struct MeasuredPrint {
  std::string date, notes;
  std::optional<double> run_on_mm3;
  std::optional<double> at_flow_mm3_s;  // of the run-on; else [lag]'s
  std::optional<double> lag_s;          // at [lag]'s flow
  std::optional<double> blob_mm3;       // excess at a stop, mean over the print as sliced
  std::optional<double> gap_mm;         // missing after a start, mean over the print as sliced
};

// What the measured lag holds for.
struct LagOrigin {
  double run_on_flow_index_correlation = 0;  // of the errors that lag.*_sd state, −1 … 1
  std::string measured_on, measured_with;    // date and plastic; empty where not said
  std::optional<double> nozzle_mm;
};

struct Profile {
  std::string title;  // the file's name where none is given
  std::string notes;
  std::string date;  // when the machine was built so; never taken from a base
  std::string path;  // as given to load(); the name given to parse()

  motion::Limits limits;
  Machine machine;
  Bounds bounds;

  melt::Feed feed;
  std::optional<double> e_mm_per_turn;  // E for one turn of the screw

  std::optional<melt::LagLaw> measured_lag;  // [lag]; its activation_kj_mol comes from [material]
  LagOrigin lag_origin;
  // Where a base holds a lag that was not taken over, a sentence that says why; else empty.
  std::string lag_left_behind;
  double leak_per_s = 0;   // share of the run-on that leaks back each second
  double creep_share = 0;  // share of the run-on that is stored slowly, 0 … 1
  double creep_s = 0;      // in this time; > 0 where creep_share > 0

  // The parts of the machine, each as far as it is known.
  std::optional<melt::Barrel> barrel;
  std::optional<melt::Nozzle> nozzle;
  std::vector<melt::Part> mechanics;  // a load test is one part, named "load test"
  double friction_n = 0;              // of the softening zone on the screw, where it was fitted
  MaterialFacts material;
  // Where a tube is given and everything that it needs.
  std::optional<melt::HeatBarrier> heat_barrier;
  std::vector<std::string> barrier_lacks;  // keys that are missing; empty without a tube

  std::vector<MeasuredPrint> measured;  // never taken from a base: another build is measured again

  // Standard deviations by the key's full name: "lag.run_on_mm3", "mechanics.parts[0].n_per_mm".
  std::map<std::string, double, std::less<>> sd;
};

struct LoadOptions {
  std::string share_dir =
      {};  // directory of the shipped profiles; materials are looked for there last
};

// Reads a profile and everything it refers to. Throws Error with file:line:column and a hint where
// a file cannot be read, a key is unknown, missing, of the wrong type or out of its range.
[[nodiscard]] Profile load(std::string const& path, LoadOptions const& options = {});
// The same from text; `name` stands for the path in messages and in relative file names.
[[nodiscard]] Profile parse(std::string_view text,
                            std::string const& name,
                            LoadOptions const& options = {});

// What is still missing before the lag can be computed from the parts, as one would type it
// ("[nozzle] diameter_mm"); empty where nothing is.
[[nodiscard]] std::vector<std::string> missing_parts(Profile const& profile);
// The machine as its parts say; nothing where something is missing.
[[nodiscard]] std::optional<melt::Machine> parts_machine(Profile const& profile);
// The flow that the lag is stated at: the measured lag's, else 5 mm³/s.
[[nodiscard]] double lag_flow_mm3_s(Profile const& profile);
// The lag that the parts explain, at that flow; nothing where something is missing.
[[nodiscard]] std::optional<melt::PartsLag> parts_lag(Profile const& profile);

enum class Source { none, measured, parts };

// Where lag_law() takes the law from: the measured one if there is one, else the parts.
[[nodiscard]] Source lag_source(Profile const& profile);
// Throws Error with the command to type next where the profile has neither.
[[nodiscard]] melt::LagLaw lag_law(Profile const& profile);
// lag_law() with feed, leak and what the screw can do as far as it is known.
[[nodiscard]] melt::PlantParameters plant(Profile const& profile);
// The store that a schedule may rely on: what was measured less twice its deviation; 0 where it was
// not.
[[nodiscard]] double sure_burst_mm3(Profile const& profile);
// How well the measured lag is known, by its _sd keys; zeros where they are not there.
[[nodiscard]] schedule::LagSpread lag_spread(Profile const& profile);
// The same; throws Error where they are not there.
[[nodiscard]] schedule::LagSpread required_lag_spread(Profile const& profile);

}  // namespace meltlag::profile
