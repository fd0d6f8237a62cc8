// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <functional>

#include "meltlag/base/error.hpp"
#include "meltlag/base/text.hpp"
#include "meltlag/fit/timing.hpp"
#include "meltlag/reading/printed_path.hpp"
#include "meltlag/testpiece/program_frame.hpp"
#include "timing_plan.hpp"

namespace meltlag::fit {
namespace {

constexpr double least_factor = 0.1, greatest_factor = 10;
constexpr double same_share = 0.01;  // of a time: nobody's planner is told to less

// A number of [machine] that a block tells of; multiplied as a whole where there is one an axis.
struct Knob {
  char const* key;
  std::function<void(motion::Limits&, double)> scale;
  std::function<double(motion::Limits const&)> value;
};

Knob acceleration_knob() {
  return {"acceleration_mm_s2",
          [](motion::Limits& l, double by) { l.acceleration_mm_s2 *= by; },
          [](motion::Limits const& l) { return l.acceleration_mm_s2; }};
}
Knob travel_knob() {
  return {"travel_acceleration_mm_s2",
          [](motion::Limits& l, double by) { l.travel_acceleration_mm_s2 *= by; },
          [](motion::Limits const& l) { return l.travel_acceleration_mm_s2; }};
}
Knob corner_knob(motion::Limits const& limits) {
  if (limits.corner_rule == motion::CornerRule::rounding)
    return {"corner_rounding_mm",
            [](motion::Limits& l, double by) { l.corner_rounding_mm *= by; },
            [](motion::Limits const& l) { return l.corner_rounding_mm; }};
  return {"corner_jump_mm_s",
          [](motion::Limits& l, double by) {
            l.corner_jump_mm_s[0] *= by;
            l.corner_jump_mm_s[1] *= by;
          },
          [](motion::Limits const& l) { return l.corner_jump_mm_s[0]; }};
}
Knob stroke_knob() {
  return {"retract_acceleration_mm_s2",
          [](motion::Limits& l, double by) { l.retract_acceleration_mm_s2 *= by; },
          [](motion::Limits const& l) { return l.retract_acceleration_mm_s2; }};
}

class Judge {
 public:
  Judge(TimingOptions const& options, double sd_s) : options_(options), sd_s_(sd_s) {
    motion::Limits& l = options_.limits;
    // A stroke's own limit has to be a number to be multiplied.
    l.retract_acceleration_mm_s2 =
        std::min(l.retract_acceleration_mm_s2, l.max_acceleration_mm_s2[motion::axis_e]);
  }

  TimingFinding judge(TimingBlock const& block, double took_s) {
    TimingFinding out{.kind = block.kind, .took_s = took_s};
    out.planned_s = planned(block, options_.limits);
    if (block.kind == TimingKind::stops) return stops(block, out);
    if (block.kind == TimingKind::travels_g1) return rule(block, out);
    Knob const knob = block.kind == TimingKind::beads     ? acceleration_knob()
                      : block.kind == TimingKind::travels ? travel_knob()
                      : block.kind == TimingKind::corners ? corner_knob(options_.limits)
                                                          : stroke_knob();
    return by_knob(block, knob, out);
  }
  [[nodiscard]] motion::Limits const& limits() const { return options_.limits; }

 private:
  [[nodiscard]] double planned(TimingBlock const& block, motion::Limits const& limits) const {
    TimingOptions with = options_;
    with.limits = limits;
    return planned_block_s(block.gcode, with);
  }
  [[nodiscard]] double planned_with(TimingBlock const& block, Knob const& knob, double by) const {
    motion::Limits limits = options_.limits;
    knob.scale(limits, by);
    return planned(block, limits);
  }
  [[nodiscard]] bool same(double planned_s, double took_s) const {
    return std::abs(planned_s - took_s) <= std::max(2 * sd_s_, same_share * planned_s);
  }

  TimingFinding by_knob(TimingBlock const& block, Knob const& knob, TimingFinding out) {
    out.key = knob.key;
    double const value = knob.value(options_.limits);
    if (same(out.planned_s, out.took_s)) {
      out.words = fmt::format("{} = {:.4g} holds.", knob.key, value);
      return out;
    }
    double low = least_factor, high = greatest_factor;  // the larger a limit, the shorter the time
    if (planned_with(block, knob, low) < out.took_s ||
        planned_with(block, knob, high) > out.took_s) {
      out.verdict = TimingVerdict::unexplained;
      out.words =
          fmt::format("No {} between a tenth and ten times {:.4g} explains it.", knob.key, value);
      return out;
    }
    for (int i = 0; i < 40; ++i) {
      double const middle = std::sqrt(low * high);
      (planned_with(block, knob, middle) > out.took_s ? low : high) = middle;
    }
    double const by = std::sqrt(low * high);
    constexpr double step = 1.05;
    double const follows =
        std::abs(planned_with(block, knob, by * step) - planned_with(block, knob, by / step)) /
        (2 * std::log(step));
    out.verdict = TimingVerdict::differs;
    out.value = value * by;
    out.sd = follows > 0 ? *out.value * sd_s_ / follows : *out.value;
    out.words =
        fmt::format("{} is {:.3g} ± {:.2g}, not {:.4g}.", knob.key, *out.value, *out.sd, value);
    knob.scale(options_.limits, by);
    return out;
  }

  // Halting or not; what is nearer.
  TimingFinding stops(TimingBlock const& block, TimingFinding out) {
    out.key = "stops_halt";
    motion::Limits other = options_.limits;
    other.stops_halt = !other.stops_halt;
    double const other_s = planned(block, other);
    double const off = std::abs(out.planned_s - out.took_s),
                 other_off = std::abs(other_s - out.took_s);
    char const* const said = options_.limits.stops_halt ? "halts" : "does not halt";
    bool const apart = std::abs(other_s - out.planned_s) > 4 * sd_s_;
    if (!apart) {
      out.verdict = TimingVerdict::unexplained;
      out.words = "Halting or not makes no difference here: cannot tell.";
    } else if (off <= other_off) {
      out.words = fmt::format("The printer {} at moves of E alone, as the profile says.", said);
    } else {
      out.verdict = TimingVerdict::differs;
      out.value = other.stops_halt ? 1 : 0;
      out.words = fmt::format("The printer {} at moves of E alone.",
                              other.stops_halt ? "halts" : "does not halt");
      options_.limits = other;
    }
    return out;
  }

  // G1 without E: as a travel, or as all G1.
  TimingFinding rule(TimingBlock const& block, TimingFinding out) {
    using motion::TravelRule;
    out.key = "travel_acceleration_holds_for";
    motion::Limits other = options_.limits;
    bool const rapid = other.travel_rule == TravelRule::rapid;
    other.travel_rule = rapid ? TravelRule::without_e : TravelRule::rapid;
    double const other_s = planned(block, other);
    if (std::abs(other_s - out.planned_s) <= 4 * sd_s_) {
      out.words =
          "Travels and other moves have the same acceleration: which G1 is makes no difference.";
    } else if (std::abs(out.planned_s - out.took_s) <= std::abs(other_s - out.took_s)) {
      out.words = fmt::format("The travel acceleration holds for {}, as the profile says.",
                              rapid ? "G0" : "moves without E");
    } else {
      out.verdict = TimingVerdict::differs;
      out.value = rapid ? 0 : 1;
      out.words =
          fmt::format("The travel acceleration holds for {}.", rapid ? "moves without E" : "G0");
      options_.limits = other;
    }
    return out;
  }

  TimingOptions options_;
  double sd_s_;
};

// 67.3, 67,3 s or 1:07.3.
double seconds_of(Sheet const& sheet, std::size_t row) {
  static constexpr std::array<std::string_view, 1> units{"s"};
  std::string_view const text = sheet.text(row, "took_s");
  std::size_t const colon = text.find(':');
  double seconds = 0;
  if (colon == std::string_view::npos) {
    seconds = *sheet.number(row, "took_s", units);
  } else {
    std::string rest{text.substr(colon + 1)};
    std::ranges::replace(rest, ',', '.');
    double minutes = 0;
    auto const a = std::from_chars(text.data(), text.data() + colon, minutes);
    auto const b = std::from_chars(rest.data(), rest.data() + rest.size(), seconds);
    bool const whole = a.ec == std::errc{} && a.ptr == text.data() + colon && b.ec == std::errc{} &&
                       b.ptr == rest.data() + rest.size() && seconds < 60;
    if (!whole)
      throw Error(fmt::format("'{}' is no time", text),
                  sheet.place(row, "took_s"),
                  "write seconds, 67.3, or minutes and seconds, 1:07.3");
    seconds += 60 * minutes;
  }
  if (!(seconds > 0))
    throw Error("a time has to be more than 0",
                sheet.place(row, "took_s"),
                "leave it empty where it was missed");
  return seconds;
}

}  // namespace

double planned_block_s(std::string const& gcode, TimingOptions const& options) {
  // The head stands where the program brings it before each block.
  std::string const text =
      testpiece::common_modes() +
      fmt::format(
          "G0 X{:.3f} Y{:.3f} Z{:g} F6000\nM0\n", options.x_mm, options.y_mm, options.z_mm) +
      gcode;
  Notices told_already;
  reading::PrintedPath const path = reading::read_path(
      gcode::LineSource::from_text(text, "timing block"),
      {.slicer_diameter_mm = options.slicer_diameter_mm, .limits = options.limits},
      told_already);
  double seconds = 0;
  for (std::size_t i = 1; i < path.moves.size(); ++i)  // without the way there
    seconds += path.moves[i].timed.speed.duration_s();
  return seconds;
}

std::vector<TimingReading> read_timing_sheet(Sheet const& sheet) {
  constexpr std::array<std::string_view, 2> columns{"block", "took_s"};
  sheet.require(columns);
  std::vector<TimingReading> readings;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    if (sheet.text(row, "took_s").empty()) continue;
    std::optional<double> const block = sheet.number(row, "block", {});
    if (!block || *block < 1 || *block != std::floor(*block))
      throw Error(
          "the row names no block", sheet.place(row, "block"), "take it from the sheet as written");
    readings.push_back({static_cast<int>(*block), seconds_of(sheet, row)});
  }
  return readings;
}

TimingJudgement judge_timing(std::vector<TimingBlock> const& blocks,
                             std::vector<TimingReading> const& readings,
                             TimingOptions const& options,
                             double sd_s) {
  Judge judge(options, sd_s);
  TimingJudgement out{.findings = {}, .limits = options.limits};
  for (TimingBlock const& block : blocks) {
    auto const reading = std::ranges::find(readings, block.number, &TimingReading::block);
    if (reading != readings.end()) out.findings.push_back(judge.judge(block, reading->took_s));
  }
  out.limits = judge.limits();
  return out;
}

}  // namespace meltlag::fit
