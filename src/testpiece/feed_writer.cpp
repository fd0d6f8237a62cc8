// SPDX-License-Identifier: MIT
#include "feed_writer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "meltlag/gcode/format.hpp"

namespace meltlag::testpiece {
namespace {

constexpr double longest_e_mm = 100;  // in one move: some boards refuse longer ones
constexpr int e_decimals = 5, feed_decimals = 3;

double rounded(double value, int decimals) {
  double const scale = std::pow(10.0, decimals);
  return std::round(value * scale) / scale;
}

}  // namespace

FeedWriter::FeedWriter(FeedOptions const& options)
    : options_(options),
      area_mm2_(std::numbers::pi / 4 * options.slicer_diameter_mm * options.slicer_diameter_mm) {}

void FeedWriter::comment(std::string_view words) { gcode_ += fmt::format("; {}\n", words); }

void FeedWriter::announce(std::string_view words) { gcode_ += fmt::format("M117 {}\n", words); }

// Equal moves of one rate: a printer that looks ahead goes from one to the next without a stop.
double FeedWriter::turn(double e_mm, double e_mm_s) {
  int const moves = std::max(1, static_cast<int>(std::ceil(std::abs(e_mm) / longest_e_mm)));
  double const each_mm = rounded(e_mm / moves, e_decimals);
  double const feed_mm_min = std::max(0.001, rounded(60 * e_mm_s, feed_decimals));
  for (int i = 0; i < moves; ++i) {
    gcode_ += "G1 E";
    gcode::append_number(gcode_, each_mm, e_decimals);
    gcode_ += " F";
    gcode::append_number(gcode_, feed_mm_min, feed_decimals);
    gcode_ += '\n';
  }
  double const volume_mm3 = std::abs(each_mm) * moves * area_mm2_;
  seconds_ += std::abs(each_mm) * moves / (feed_mm_min / 60);
  if (e_mm > 0) plastic_mm3_ += volume_mm3;
  return volume_mm3;
}

double FeedWriter::run(double flow_mm3_s, double seconds) {
  double const e_mm_s = e_speed_mm_s(flow_mm3_s);
  return turn(e_mm_s * seconds, e_mm_s);
}

void FeedWriter::wait(double seconds) {
  if (!(seconds > 0)) return;
  gcode_ += fmt::format("G4 P{}\n", std::llround(1000 * seconds));
  seconds_ += seconds;
}

void FeedWriter::hand_over() {
  if (options_.swap == CupSwap::pause) {
    pause();
    return;
  }
  gcode_ += "M300 S880 P300\n";
  wait(options_.swap_s);
  gcode_ += "M300 S1760 P300\n";
}

void FeedWriter::pause() { gcode_ += "M0\n"; }

}  // namespace meltlag::testpiece
