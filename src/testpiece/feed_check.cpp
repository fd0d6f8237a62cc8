// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "feed_writer.hpp"
#include "meltlag/base/error.hpp"

namespace meltlag::testpiece {
namespace {

struct Range {
  double value;
  char const* name;
  double low, high;
  char const* unit;
};

void check_ranges(FeedOptions const& o) {
  for (Range const& range :
       {Range{o.slicer_diameter_mm, "the filament diameter", 0.5, 20, "mm"},
        {o.cup_s, "the time for a cup", 5, 3600, "s"},
        {o.settle_s, "the settling time", 0, 600, "s"},
        {o.drip_s, "the dripping time", 0, 600, "s"},
        {o.prime_s, "the priming time", 0, 3600, "s"},
        {o.swap_s, "the time for swapping cups", 1, 3600, "s"},
        {o.scale_g, "the scale's step", 1e-6, 10, "g"},
        {o.travel_mm_s, "the travel speed", 1, 1000, "mm/s"},
        {o.park_x_mm, "the place X", -10000, 10000, "mm"},
        {o.park_y_mm, "the place Y", -10000, 10000, "mm"},
        {o.park_z_mm, "the height Z", 1, 10000, "mm"},
        {1.0 * o.cups_per_flow.value_or(1), "the number of cups at each flow", 0, 100, ""}})
    if (!(range.value >= range.low && range.value <= range.high))
      throw Error(fmt::format("{} is {:g} {}", range.name, range.value, range.unit),
                  {},
                  fmt::format("give {:g} to {:g} {}", range.low, range.high, range.unit));
  if (o.cups_per_flow == 0 && o.bursts == Bursts::none && o.store_cups == StoreCups::none)
    throw Error("neither cups nor bursts are asked for", {}, "ask for one cup or more");
  if (!o.start_code && !(o.nozzle_c >= 60 && o.nozzle_c <= 450))
    throw Error("the plain start needs the nozzle's temperature",
                {},
                "give 60 to 450 °C for the nozzle, or your own start code");
}

void check_flow(FeedOptions const& o, double flow_mm3_s, double area_mm2) {
  double const e_limit = o.limits.max_speed_mm_s[motion::axis_e] * area_mm2;
  if (!(flow_mm3_s > 0) || !std::isfinite(flow_mm3_s))
    throw Error(fmt::format("a flow of {:g} mm³/s makes no sense", flow_mm3_s),
                {},
                "give flows above 0, such as 2,4,8");
  if (flow_mm3_s > e_limit * (1 + 1e-9))
    throw Error(fmt::format("the flow {:g} mm³/s asks more than E's greatest speed", flow_mm3_s),
                {.file = "[machine] max_speed_mm_s"},
                fmt::format("give flows up to {:g} mm³/s", e_limit));
}

double two_figures(double value) {
  double const scale = std::pow(10.0, 1 - std::floor(std::log10(value)));
  return std::round(value * scale) / scale;
}

// Those that E reaches.
void choose_flows(FeedOptions& options, double area_mm2) {
  double const most = options.limits.max_speed_mm_s[motion::axis_e] * area_mm2;
  std::optional<double> commanded = options.max_flow_mm3_s;
  if (commanded) *commanded /= options.known.delivered_factor;
  for (double const flow : chosen_flows(commanded))
    if (flow <= most) options.flows_mm3_s.push_back(flow);
  if (options.flows_mm3_s.empty()) options.flows_mm3_s = {most / 4, most / 2, most};
}

int cups_for(std::size_t flows) {
  return std::max(3, static_cast<int>(std::lround(30.0 / static_cast<double>(flows))));
}

void check_store(FeedOptions const& options) {
  if (options.store_cups == StoreCups::rising && !options.max_flow_mm3_s)
    throw Error("cups of bursts need to know what the screw feeds for long",
                {.file = "[limits] max_flow_mm3_s"},
                "measure it first: `meltlag calibrate feed` without --limits finds it");
}

}  // namespace

std::vector<double> chosen_flows(std::optional<double> max_flow_mm3_s) {
  double const low = max_flow_mm3_s ? *max_flow_mm3_s / 4 : 2;
  int const count = max_flow_mm3_s ? 7 : 8;
  std::vector<double> flows;
  for (int i = 0; i < count; ++i) flows.push_back(two_figures(low * std::pow(2.0, i / 2.0)));
  return flows;
}

FeedOptions checked(FeedOptions options) {
  check_ranges(options);
  check_store(options);
  double const area_mm2 = FeedWriter(options).area_mm2();
  if (options.flows_mm3_s.empty()) choose_flows(options, area_mm2);
  if (!options.cups_per_flow) options.cups_per_flow = cups_for(options.flows_mm3_s.size());
  for (double const flow : options.flows_mm3_s) check_flow(options, flow, area_mm2);
  std::ranges::sort(options.flows_mm3_s);
  if (std::ranges::adjacent_find(options.flows_mm3_s) != options.flows_mm3_s.end())
    throw Error("a flow is given twice", {}, "give each flow once");
  if (options.burst_to_mm3_s) check_flow(options, *options.burst_to_mm3_s, area_mm2);
  return options;
}

}  // namespace meltlag::testpiece
