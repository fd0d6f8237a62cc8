// SPDX-License-Identifier: MIT
#include "meltlag/melt/plant.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "filled.hpp"
#include "meltlag/base/vec.hpp"
#include "ramp.hpp"

namespace meltlag::melt {
namespace {

Ramp ramp_of(Input const& input) {
  return {input.duration_s, input.start_mm3_s, input.at(input.duration_s)};
}

Input input_of(Ramp const& ramp) {
  return {ramp.start_mm3_s, (ramp.end_mm3_s - ramp.start_mm3_s) / ramp.duration_s, ramp.duration_s};
}

Ramp commanded(CommandedRamp const& ramp) {
  return {ramp.duration_s, ramp.commanded_start_mm3_s, ramp.commanded_end_mm3_s};
}

// What is left of an input after t.
Input rest_of(Input const& input, double t_s) {
  return {input.at(t_s), input.slope_mm3_s2, input.duration_s - t_s};
}

}  // namespace

double Feed::area_mm2() const { return circle_area(slicer_diameter_mm); }

Plant::Plant(PlantParameters const& parameters)
    : parameters_(parameters),
      flow_law_(parameters.law),
      supply_(parameters.supply),
      backlash_mm3_(parameters.feed.backlash_mm * parameters.feed.area_mm2()),
      backlash_position_mm3_(backlash_mm3_) {}

void Plant::set_temperature(double nozzle_c) {
  flow_law_ = NozzleFlow(at_temperature(parameters_.law, nozzle_c));
}

double Plant::flow_mm3_s() const { return flow_law_(run_on_mm3_); }

double Plant::run_out() {
  double const out = std::max(0.0, run_on_mm3_);
  run_on_mm3_ = std::min(0.0, run_on_mm3_);
  supply_.wait();
  return out;
}

double Plant::advance(CommandedRamp const& ramp) {
  if (!(ramp.duration_s > 0)) {
    return 0;
  }
  double const a = ramp.commanded_start_mm3_s, b = ramp.commanded_end_mm3_s;
  assert((a >= 0 && b >= 0) || (a <= 0 && b <= 0));
  Feed const& feed = parameters_.feed;
  double const factor = feed.delivered_factor * (a + b < 0 ? feed.reverse_factor : 1);
  double const dead_s = take_up_backlash(ramp);
  double out = dead_s > 0 ? advance_delivered({dead_s, 0, 0}) : 0;
  if (dead_s < ramp.duration_s) {
    double const at_dead = dead_s > 0 ? rate_at(commanded(ramp), dead_s) : a;
    out += advance_delivered({ramp.duration_s - dead_s, factor * at_dead, factor * b});
  }
  return out;
}

// How long the screw turns without effect at the start of the ramp.
double Plant::take_up_backlash(CommandedRamp const& ramp) {
  if (backlash_mm3_ <= 0) {
    return 0;
  }
  Ramp const command = commanded(ramp);
  double const volume = command.volume_mm3();
  double const room = volume > 0 ? backlash_mm3_ - backlash_position_mm3_ : backlash_position_mm3_;
  if (room <= 0 || volume == 0) {
    return 0;
  }
  if (std::abs(volume) <= room) {
    backlash_position_mm3_ = std::clamp(backlash_position_mm3_ + volume, 0.0, backlash_mm3_);
    return ramp.duration_s;
  }
  backlash_position_mm3_ = volume > 0 ? backlash_mm3_ : 0;
  return time_to_bring(command, room);
}

double Plant::advance_delivered(Ramp const& delivered) {
  double out = 0;
  supply_.feed(delivered, [&](Ramp const& fed) { out += advance_fed(fed); });
  return out;
}

double Plant::advance_fed(Ramp const& fed) {
  Input input = input_of(fed);
  double const volume = input.volume(input.duration_s);
  if (run_on_mm3_ <= 0) {
    if (volume <= -run_on_mm3_) {  // stays empty
      run_on_mm3_ += volume;
      return 0;
    }
    input = rest_of(input, time_to_bring(ramp_of(input), run_on_mm3_));
    run_on_mm3_ = 0;
  }
  Filled const filled =
      flow_law_.power() == NozzleFlow::Power::one
          ? advance_linear(flow_law_, parameters_.leak_per_s, input, run_on_mm3_)
          : advance_power(
                flow_law_, parameters_.leak_per_s, input, run_on_mm3_, parameters_.step_error);
  double const out =
      run_on_mm3_ + input.volume(filled.used_s) - filled.run_on_mm3 - filled.leaked_mm3;
  double const after_mm3 = rest_of(input, filled.used_s).volume(input.duration_s - filled.used_s);
  run_on_mm3_ = filled.run_on_mm3 + (filled.used_s < input.duration_s ? after_mm3 : 0);
  return std::max(0.0, out);
}

}  // namespace meltlag::melt
