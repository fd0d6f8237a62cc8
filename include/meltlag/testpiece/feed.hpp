// SPDX-License-Identifier: MIT
// The feed on the scale: G-code that runs the screw at constant speed into cups, and the sheets for
// what they weigh.
//
// A cup's run: the screw turns at the cup's flow into a waste cup, so that hopper and channel
// settle; it stops and the run-on drips off; the cup is put under; the screw turns for the cup's
// time; it stops and the run-on drips off into the cup. So the cup holds what was commanded, less
// what the feed failed to bring: the lag takes nothing from it. Cups come in rounds, each round
// holds every flow once in shuffled order: a drift over time and a dependence on the flow do not
// look alike. The first round rises, so that whoever stands beside it hears a fault at the lowest
// flow that makes one.
//
// The flows rise until cups starve: from there on they hold what the screw feeds for long. Bursts
// for the ear tell the most it feeds in a short one; cups of many bursts tell the melt that stands
// ready for them (fit/store.hpp).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/motion/limits.hpp"
#include "meltlag/testpiece/store_cups.hpp"

namespace meltlag::testpiece {

enum class CupSwap : std::uint8_t {
  pause,  // M0: the printer waits for a press of its button
  dwell,  // M300 sounds and G4 waits for FeedOptions::swap_s
};

enum class Bursts : std::uint8_t { none, rising };
enum class StoreCups : std::uint8_t { none, rising };

struct FeedOptions {
  double slicer_diameter_mm;                  // filament diameter that E is computed with
  motion::Limits limits;                      // checked against
  std::optional<double> max_flow_mm3_s = {};  // delivered, as far as it is known

  // Empty: chosen_flows(), as far as E's greatest speed allows.
  std::vector<double> flows_mm3_s = {};
  std::optional<int> cups_per_flow = {};  // nothing: 30 cups in all, no less than 3 at each flow
  double cup_s = 60;                      // the screw's time for one cup
  double settle_s = 10;                   // into the waste cup before each cup
  double drip_s = 10;                     // at a standstill after each run
  double prime_s = 60;  // into the waste cup before everything, at the middle flow
  CupSwap swap = CupSwap::pause;
  double swap_s = 20;
  std::uint32_t seed = 1;
  std::optional<double> density_g_cm3 = {};  // to state what a cup will weigh
  double scale_g = 0.01;                     // what the scale resolves

  double park_x_mm = 10, park_y_mm = 10, park_z_mm = 100;  // where the nozzle stands over the cups
  double travel_mm_s = 50;
  double nozzle_c = 0;                                        // used by the plain start alone
  std::optional<std::string> start_code = {}, end_code = {};  // else the plain start and end

  Bursts bursts = Bursts::none;
  std::optional<double> burst_to_mm3_s = {};  // else up to the limit of E's speed

  StoreCups store_cups = StoreCups::none;  // need max_flow_mm3_s
  StoreKnowledge known = {};
  std::optional<int> bursts_per_cup = {};  // nothing: as many as determine the store well enough
};

// What is asked by default, rising by √2: from a quarter to twice what the screw feeds, or from 2
// to 23 mm³/s where that is not known.
[[nodiscard]] std::vector<double> chosen_flows(std::optional<double> max_flow_mm3_s);

struct Cup {
  int number = 0;  // in the order filled, from 1
  double flow_mm3_s = 0;
  double commanded_mm3 = 0;  // as written, E's rounding included
  double seconds = 0;
};

enum class Direction : std::uint8_t { forward, reverse };

struct Burst {
  int number = 0;  // in the order run, from 1
  Direction direction = Direction::forward;
  double flow_mm3_s = 0;  // of E's volume
  double e_mm_s = 0;
};

struct FeedProgram {
  std::string gcode;
  std::vector<Cup> cups;
  std::vector<Burst> bursts;
  std::vector<StoreCup> store_cups;
  double store_plus_minus_mm3 = 0;  // to be expected of them
  double planned_s = 0;             // without heating and pauses
  double plastic_mm3 = 0;           // with waste
  std::vector<std::string> remarks;
};

// Throws Error where a flow breaks a limit, a time or a count makes no sense, or a temperature for
// the plain start is missing. REQUIRES: `store` holds cups where options.store_cups asks for them
// (fit::plan_feed_program() plans them).
[[nodiscard]] FeedProgram make_feed_program(FeedOptions const& options,
                                            StorePlan const& store = {});
// What the options and the printer say to the plan of the store's cups. Throws as
// make_feed_program() does.
[[nodiscard]] StorePlanOptions store_plan_options(FeedOptions const& options);

// CSV with the columns cup,flow_mm3_s,commanded_mm3,seconds,mass_g,note; the last two are empty.
[[nodiscard]] std::string cup_sheet(FeedProgram const& program);
// CSV with the columns burst,direction,flow_mm3_s,e_mm_s,result,note; the last two are empty.
[[nodiscard]] std::string burst_sheet(FeedProgram const& program);
// CSV with the columns
// cup,bursts,flow_mm3_s,burst_mm3_s,burst_s,rise_mm3_s2,commanded_mm3,mass_g,note.
[[nodiscard]] std::string store_sheet(FeedProgram const& program);

}  // namespace meltlag::testpiece
