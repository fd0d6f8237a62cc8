// SPDX-License-Identifier: MIT
#include "test_piece_settings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>

#include "meltlag/base/error.hpp"
#include "meltlag/base/vec.hpp"
#include "meltlag/melt/bead.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr double default_fast_mm3_s = 8;
constexpr double default_ratio = 4;     // fast : slow
constexpr double smallest_ratio = 1.5;  // below it no step can be read
constexpr double middle_ratio = 2.5, small_ratio = 1.5;

void require_between(double value, double low, double high, std::string_view what) {
  if (value >= low && value <= high) return;
  throw Error(fmt::format("{} is {:g}, but must lie between {:g} and {:g}", what, value, low, high),
              {},
              "Check the number and its unit.");
}

void check_temperatures(PieceOptions const& options) {
  if (options.start_code) return;
  if (!(options.nozzle_c > 0)) {
    throw Error("the plain start does not know how hot the nozzle has to be",
                {},
                "Give the nozzle's temperature in °C, or your own start code.");
  }
  require_between(options.nozzle_c, 100, 500, "the nozzle's temperature, °C,");
  require_between(options.bed_c, 0, 200, "the bed's temperature, °C,");
}

double to_tenth(double speed_mm_s) { return std::round(speed_mm_s * 10) / 10; }
double down_to_tenth(double speed_mm_s) { return std::floor(speed_mm_s * 10 + 1e-9) / 10; }

double slowest_axis(PieceOptions const& options) {
  return std::min(options.limits.max_speed_mm_s[0], options.limits.max_speed_mm_s[1]);
}

// The greatest speed that X, Y and E allow at the bead's E per mm.
double greatest_speed(PieceOptions const& options, Bead const& bead) {
  return std::min(slowest_axis(options),
                  options.limits.max_speed_mm_s[motion::axis_e] / bead.e_mm_per_mm());
}

double choose_fast(PieceOptions const& options,
                   Bead const& bead,
                   std::vector<std::string>& remarks) {
  if (options.fast_mm_s > 0) return options.fast_mm_s;
  double flow_mm3_s = default_fast_mm3_s;
  if (options.max_flow_mm3_s) {
    flow_mm3_s = std::min(flow_mm3_s, part_of_limit * *options.max_flow_mm3_s);
  }
  double const by_axes_mm_s = part_of_limit * greatest_speed(options, bead);
  double const speed_mm_s = down_to_tenth(std::min(flow_mm3_s / bead.section_mm2, by_axes_mm_s));
  if (speed_mm_s * bead.section_mm2 < 0.98 * default_fast_mm3_s) {
    remarks.push_back(fmt::format(
        "The fast speed was lowered from {:.1f} mm/s to {:.1f} mm/s, because {}.",
        default_fast_mm3_s / bead.section_mm2,
        speed_mm_s,
        by_axes_mm_s < flow_mm3_s / bead.section_mm2 ? "an axis allows no more"
                                                     : "the screw's greatest flow allows no more"));
  }
  return speed_mm_s;
}

double choose_slow(PieceOptions const& options,
                   Bead const& bead,
                   Layout const& layout,
                   double fast_mm_s,
                   std::vector<std::string>& remarks) {
  if (options.slow_mm_s > 0) return options.slow_mm_s;
  // While the flow of the fast speed still comes, a slow bead is as many times wider.
  double const room = (layout.pitch_mm - 0.3) / bead.width_mm;
  double const ratio = std::min(default_ratio, room);
  double speed_mm_s = to_tenth(fast_mm_s / ratio);
  if (room < default_ratio) {
    remarks.push_back(
        fmt::format("The slow speed is 1/{:.1f} of the fast one instead of 1/{:.0f}, so that "
                    "swollen beads do not touch their neighbours.",
                    ratio,
                    default_ratio));
  }
  if (speed_mm_s < options.min_speed_mm_s) {
    speed_mm_s = std::ceil(options.min_speed_mm_s * 10 - 1e-9) / 10;
    remarks.push_back(fmt::format(
        "The slow speed was raised to {:.1f} mm/s, the slowest that the printer runs at.",
        speed_mm_s));
  }
  return speed_mm_s;
}

void check_speed(PieceOptions const& options, Bead const& bead, double mm_s, char const* name) {
  double const most_mm_s = greatest_speed(options, bead), flow_mm3_s = mm_s * bead.section_mm2;
  if (mm_s > most_mm_s) {
    throw Error(fmt::format("the {} speed of {:.1f} mm/s is beyond what X, Y or E can do: "
                            "{:.1f} mm/s with this bead",
                            name,
                            mm_s,
                            most_mm_s),
                {},
                "Choose a lower speed or a smaller bead.");
  }
  if (options.max_flow_mm3_s && flow_mm3_s > *options.max_flow_mm3_s) {
    throw Error(fmt::format("the {} speed of {:.1f} mm/s needs {:.1f} mm³/s, and the screw gives "
                            "{:.1f} mm³/s at most",
                            name,
                            mm_s,
                            flow_mm3_s,
                            *options.max_flow_mm3_s),
                {},
                "Choose a lower speed or a smaller bead.");
  }
  if (mm_s < options.min_speed_mm_s) {
    throw Error(fmt::format("the {} speed of {:.1f} mm/s is below the slowest that the printer "
                            "runs at, {:.1f} mm/s",
                            name,
                            mm_s,
                            options.min_speed_mm_s),
                {},
                "Choose a higher speed.");
  }
}

// Speeds around the medium one, within slow … fast.
Pair around(Speeds const& speeds, double ratio) {
  double const down = speeds.medium_mm_s / speeds.slow_mm_s;
  double const up = speeds.fast_mm_s / speeds.medium_mm_s;
  double const half = std::min({std::sqrt(ratio), down, up});
  return {to_tenth(speeds.medium_mm_s / half), to_tenth(speeds.medium_mm_s * half)};
}

// The screw turns at rest no faster than its limit allows, forward or backward.
double standing_speed(PieceOptions const& options, Bead const& bead, double fast_mm_s) {
  double const flow_mm3_s = options.max_flow_mm3_s ? part_of_limit * *options.max_flow_mm3_s
                                                   : 2 * fast_mm_s * bead.section_mm2;
  return down_to_tenth(
      std::min(flow_mm3_s / bead.filament_mm2, options.limits.max_speed_mm_s[motion::axis_e]));
}

void check_order(Speeds const& speeds) {
  double const ratio = speeds.fast_mm_s / speeds.slow_mm_s;
  bool const ordered =
      speeds.slow_mm_s < speeds.medium_mm_s && speeds.medium_mm_s < speeds.fast_mm_s;
  if (ordered && ratio >= smallest_ratio) return;
  throw Error(
      fmt::format("slow, medium and fast speed are {:.1f}, {:.1f} and {:.1f} mm/s: each has "
                  "to be above the one before, and fast at least {:.1f} times slow",
                  speeds.slow_mm_s,
                  speeds.medium_mm_s,
                  speeds.fast_mm_s,
                  smallest_ratio),
      {},
      "Spread the speeds further, or leave them out and let Meltlag choose.");
}

}  // namespace

Bead check_options(PieceOptions const& options) {
  require_between(options.slicer_diameter_mm, 0.5, 10, "the slicer's filament diameter, mm,");
  require_between(options.bead_width_mm, 0.3, 1.6, "the bead's width, mm,");
  require_between(options.layer_height_mm, 0.05, 1.2, "the layer height, mm,");
  require_between(options.layer_height_mm / options.bead_width_mm,
                  0.1,
                  0.8,
                  "the layer height as a part of the bead's width");
  require_between(options.layers, 3, 100, "the number of layers");
  require_between(options.layers * options.layer_height_mm, 0, 40, "the fence's height, mm,");
  require_between(options.travel_mm_s, 1, 1000, "the travel speed, mm/s,");
  require_between(options.bed_x_mm, 10, 1e4, "the bed's size in X, mm,");
  require_between(options.bed_y_mm, 10, 1e4, "the bed's size in Y, mm,");
  require_between(options.margin_mm, 0, 1000, "the bed's margin, mm,");
  require_between(options.largest_run_on_mm3, 0.1, 200, "the largest run-on, mm³,");
  require_between(options.largest_lag_s, 0.05, 30, "the largest lag, s,");
  if (options.max_flow_mm3_s) {
    require_between(*options.max_flow_mm3_s, 0.1, 1e3, "the screw's greatest flow, mm³/s,");
  }
  if (options.e_mm_per_turn) {
    require_between(*options.e_mm_per_turn, 0.1, 1e4, "E for one turn of the screw, mm,");
  }
  check_temperatures(options);
  return {.width_mm = options.bead_width_mm,
          .height_mm = options.layer_height_mm,
          .section_mm2 = melt::bead_section_mm2(options.bead_width_mm, options.layer_height_mm),
          .filament_mm2 = circle_area(options.slicer_diameter_mm)};
}

Speeds choose_speeds(PieceOptions const& options,
                     Bead const& bead,
                     Layout const& layout,
                     std::vector<std::string>& remarks) {
  Speeds speeds{};
  speeds.fast_mm_s = choose_fast(options, bead, remarks);
  speeds.slow_mm_s = choose_slow(options, bead, layout, speeds.fast_mm_s, remarks);
  speeds.medium_mm_s = options.medium_mm_s > 0
                           ? options.medium_mm_s
                           : to_tenth(std::sqrt(speeds.slow_mm_s * speeds.fast_mm_s));
  check_speed(options, bead, speeds.slow_mm_s, "slow");
  check_speed(options, bead, speeds.medium_mm_s, "medium");
  check_speed(options, bead, speeds.fast_mm_s, "fast");
  check_order(speeds);
  // With a narrower range all steps shrink alike.
  double const range = std::log(speeds.fast_mm_s / speeds.slow_mm_s) / std::log(default_ratio);
  double const shrink = std::min(1.0, range);
  speeds.middle = around(speeds, std::pow(middle_ratio, shrink));
  speeds.small = around(speeds, std::pow(small_ratio, shrink));
  speeds.travel_mm_s = down_to_tenth(std::min(options.travel_mm_s, slowest_axis(options)));
  speeds.lift_mm_s =
      down_to_tenth(std::min(10.0, part_of_limit * options.limits.max_speed_mm_s[2]));
  speeds.slowest_mm_s = options.min_speed_mm_s;
  speeds.turn_e_mm_s = standing_speed(options, bead, speeds.fast_mm_s);
  require_between(speeds.lift_mm_s, 0.1, 10, "the speed that Z can do, mm/s,");
  require_between(speeds.turn_e_mm_s, 0.1, 1000, "the speed that E can do, mm/s,");
  return speeds;
}

double lead_in_speed(PieceOptions const& options,
                     double medium_mm_s,
                     double length_mm,
                     std::vector<std::string>& remarks) {
  double const needed_s = lags_of_lead_in * options.largest_lag_s;
  if (medium_mm_s * needed_s <= length_mm) return medium_mm_s;
  double const speed_mm_s = down_to_tenth(length_mm / needed_s);
  if (speed_mm_s < options.min_speed_mm_s || speed_mm_s < 0.1) {
    throw Error(fmt::format("four lags of {:g} s need a slower lead-in than the printer can run",
                            options.largest_lag_s),
                {},
                "Give a smaller largest lag.");
  }
  remarks.push_back(fmt::format(
      "The lead-in runs at {:.1f} mm/s instead of the medium speed, so that it lasts four times "
      "the largest lag of {:g} s.",
      speed_mm_s,
      options.largest_lag_s));
  return speed_mm_s;
}

}  // namespace meltlag::testpiece::piece
