// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "feed_writer.hpp"

namespace meltlag::testpiece {
namespace {

constexpr double step_ratio = 1.25;             // at most, from one burst to the next
constexpr std::array forward_s{0.2, 0.6, 1.2};  // at full rate, rising, each out of a settled flow
constexpr double reverse_s = 0.3;
constexpr double rest_s = 2, settling_s = 3;
constexpr double settled_share = 0.25;  // of the lowest burst's flow

// Rising by equal ratios from the middle cup flow to the top.
std::vector<double> burst_flows(FeedOptions const& options, double area_mm2) {
  double const top =
      options.burst_to_mm3_s.value_or(options.limits.max_speed_mm_s[motion::axis_e] * area_mm2);
  double const low = std::min(options.flows_mm3_s[options.flows_mm3_s.size() / 2], top / 2);
  int const steps = static_cast<int>(std::ceil(std::log(top / low) / std::log(step_ratio)));
  std::vector<double> flows;
  for (int i = 0; i <= steps; ++i) flows.push_back(low * std::pow(top / low, 1.0 * i / steps));
  return flows;
}

// E that holds the rate for `seconds`, with what speeding up and slowing down take.
double burst_e_mm(FeedOptions const& options, double e_mm_s, double seconds) {
  double const acceleration = options.limits.max_acceleration_mm_s2[motion::axis_e];
  return e_mm_s * seconds + e_mm_s * e_mm_s / acceleration;
}

void write_reverse(FeedOptions const& options, Burst const& burst, FeedWriter& writer) {
  double const e_mm = burst_e_mm(options, burst.e_mm_s, reverse_s);
  writer.turn(-e_mm, burst.e_mm_s);
  writer.wait(rest_s);
  writer.turn(e_mm, writer.e_speed_mm_s(options.flows_mm3_s.front()));
}

void write_forward(FeedOptions const& options,
                   Burst const& burst,
                   double settled_mm3_s,
                   FeedWriter& writer) {
  for (double const seconds : forward_s) {
    writer.run(settled_mm3_s, settling_s);
    writer.turn(burst_e_mm(options, burst.e_mm_s, seconds), burst.e_mm_s);
  }
}

void write_burst(FeedOptions const& options,
                 Burst const& burst,
                 double settled_mm3_s,
                 FeedWriter& writer) {
  bool const forward = burst.direction == Direction::forward;
  writer.comment(fmt::format("burst {}: {} at {:.3g} mm³/s, E {:.3g} mm/s",
                             burst.number,
                             forward ? "forward" : "reverse",
                             burst.flow_mm3_s,
                             burst.e_mm_s));
  writer.announce(fmt::format(
      "Burst {} {} {:.3g} mm3/s", burst.number, forward ? "fwd" : "rev", burst.flow_mm3_s));
  writer.pause();
  forward ? write_forward(options, burst, settled_mm3_s, writer)
          : write_reverse(options, burst, writer);
  writer.wait(rest_s);
}

}  // namespace

void write_bursts(FeedOptions const& options, FeedWriter& writer, FeedProgram& program) {
  writer.comment("Bursts at rising rates. The printer pauses before each: listen, press, listen.");
  writer.comment("Forward each comes three times, longer each time, out of a slow steady flow.");
  writer.comment("Write ok after each in the sheet, or what you heard: clicks, skips, stalls.");
  writer.comment("At the first fault forward stop the print and let the machine cool:");
  writer.comment("each further burst presses harder.");
  writer.announce("Waste cup under");
  writer.pause();
  std::vector<double> const flows = burst_flows(options, writer.area_mm2());
  for (Direction const direction : {Direction::reverse, Direction::forward})
    for (double const flow : flows) {
      program.bursts.push_back({.number = static_cast<int>(program.bursts.size()) + 1,
                                .direction = direction,
                                .flow_mm3_s = flow,
                                .e_mm_s = writer.e_speed_mm_s(flow)});
      write_burst(options, program.bursts.back(), settled_share * flows.front(), writer);
    }
}

}  // namespace meltlag::testpiece
