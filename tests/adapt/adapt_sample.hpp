// SPDX-License-Identifier: MIT
// A part of our own and what it takes to adapt and judge it.
#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "judge/judged_texts.hpp"
#include "meltlag/adapt/adapt_file.hpp"
#include "meltlag/gcode/format.hpp"
#include "reference.hpp"

namespace meltlag::testing {

inline constexpr std::string_view marker = "; adapted by meltlag for a test";

enum class Unit { millimetre, inch };
enum class ECount { relative, absolute };

// How the part is written down and where it lies.
struct Sheet {
  Unit unit = Unit::millimetre;
  ECount e = ECount::relative;
  double x_sign = 1, x_mm = 0, y_mm = 0;
};

// Writes moves in a sheet's manner.
class PartWriter {
 public:
  explicit PartWriter(Sheet const& sheet = {}) : sheet_(sheet) {
    text_ = sheet.unit == Unit::inch ? "G20\n" : "G21\n";
    text_ += sheet.e == ECount::relative ? "M83\n" : "M82\n";
    text_ += "M104 S205\n";
  }
  void travel(double x_mm, double y_mm) { go("G0", x_mm, y_mm, 0, 80); }
  void print(double x_mm, double y_mm, double speed_mm_s) {
    go("G1", x_mm, y_mm, 0.09 * std::hypot(x_mm - x_, y_mm - y_), speed_mm_s);
  }
  void screw(double e_mm) {
    text_ += "G1";
    feed_out(e_mm);
    speed(30);
  }
  void hop(double x_mm, double y_mm) {
    screw(-1);
    travel(x_mm, y_mm);
    screw(1);
  }
  void line(std::string_view text) { (text_ += text) += '\n'; }
  [[nodiscard]] std::string const& text() const { return text_; }

 private:
  void word(char letter, double mm, int decimals) {
    bool const inches = sheet_.unit == Unit::inch;
    (text_ += ' ') += letter;
    gcode::append_number(text_, inches ? mm / 25.4 : mm, inches ? 7 : decimals);
  }
  void go(std::string_view code, double x_mm, double y_mm, double e_mm, double speed_mm_s) {
    text_ += code;
    word('X', sheet_.x_mm + sheet_.x_sign * x_mm, 3);
    word('Y', sheet_.y_mm + y_mm, 3);
    feed_out(e_mm);
    speed(speed_mm_s);
    x_ = x_mm;
    y_ = y_mm;
  }
  void feed_out(double e_mm) {
    e_ += e_mm;
    if (e_mm != 0) word('E', sheet_.e == ECount::relative ? e_mm : e_, 6);
  }
  void speed(double mm_s) {
    word('F', 60 * mm_s, 1);
    text_ += '\n';
  }

  Sheet sheet_;
  std::string text_;
  double x_ = 0, y_ = 0, e_ = 0;
};

// Two perimeters, a ring of 12 short segments, infill at 25 to 40 mm/s with a hop in it.
inline std::string bench_part(Sheet const& sheet = {}) {
  PartWriter out(sheet);
  out.travel(10, 10);
  for (int wall = 0; wall < 2; ++wall) {
    double const low = 10 + 0.8 * wall, right = 40 - 0.8 * wall, high = 30 - 0.8 * wall;
    if (wall > 0) out.hop(low, low);
    out.print(right, low, 25 + 5 * wall);
    out.print(right, high, 25 + 5 * wall);
    out.print(low, high, 25 + 5 * wall);
    out.print(low, low, 25 + 5 * wall);
  }
  constexpr int segments = 12;
  auto const ring = [](int i) {
    double const angle = 2 * std::numbers::pi * i / segments;
    return std::pair{25 + 2.5 * std::cos(angle), 20 + 2.5 * std::sin(angle)};
  };
  out.hop(ring(0).first, ring(0).second);
  for (int i = 1; i <= segments; ++i) out.print(ring(i).first, ring(i).second, 25);
  out.hop(12, 12);
  for (int row = 0; row < 10; ++row) {
    double const y = 12 + 1.6 * row, speed = 25 + 5 * (row % 4);
    double const from = row % 2 == 0 ? 12 : 38, to = 50 - from;
    if (row > 0) out.print(from, y, speed);
    if (row == 4) {
      out.print(20, y, speed);
      out.hop(30, y);
    }
    out.print(to, y, speed);
  }
  out.screw(-1);
  return out.text() + "M84\n";
}

inline melt::PlantParameters plant_of(double lag_s, double flow_index) {
  // At 5 mm³/s the local lag is n · S / Q.
  melt::PlantParameters plant = bench_options().plant;
  plant.law.run_on_mm3 = 5 * lag_s / flow_index;
  plant.law.flow_index = flow_index;
  return plant;
}

inline adapt::PassOptions options_for(melt::PlantParameters const& plant) {
  adapt::PassOptions options{};
  options.plant = plant;
  options.limits = bench_options().limits;
  options.marker = marker;
  return options;
}

struct Adapted {
  std::string text;
  adapt::AdaptInfo info;
  std::vector<Notice> notices;
};

inline Adapted adapt_text(std::string_view text, adapt::PassOptions const& options) {
  TemporaryFile const file(text);
  Notices notices;
  Adapted out;
  out.info = adapt::adapt_pass(
      file.path(), options, [&](std::string_view part) { out.text += part; }, notices);
  out.notices = notices.list();
  return out;
}

// As the program emits it: repaired where a promise would not hold.
inline Adapted adapt_repaired(std::string_view text,
                              adapt::AdaptOptions const& options,
                              adapt::TimeGrant const& time = {}) {
  TemporaryFile const file(text), target("");
  OutputFile output(target.path());
  Notices notices;
  Adapted out;
  out.info = adapt::adapt_file(file.path(), {.adapt = options, .time = time}, output, notices).info;
  out.text = text_of(output.temporary_path());
  out.notices = notices.list();
  return out;
}

// The slow reference's words for the same plant; its machine is that of bench_options().
inline meltlag_reference::Plant reference_plant(melt::PlantParameters const& plant) {
  meltlag_reference::Plant out;
  out.slicer_diameter_mm = plant.feed.slicer_diameter_mm;
  out.delivered_factor = plant.feed.delivered_factor;
  out.reverse_factor = plant.feed.reverse_factor;
  out.backlash_mm = plant.feed.backlash_mm;
  out.run_on_mm3 = plant.law.run_on_mm3;
  out.at_flow_mm3_s = plant.law.at_flow_mm3_s;
  out.flow_index = plant.law.flow_index;
  out.leak_per_s = plant.leak_per_s;
  out.max_flow_mm3_s = plant.supply.max_flow_mm3_s;
  out.burst_mm3 = plant.supply.burst_mm3;
  return out;
}

// What the reference finds broken. It also tells where the screw's feed lets the printer take a
// corner faster than it would without E; only slower breaks a promise.
inline std::vector<std::string> broken_promises(
    std::string_view original,
    std::string_view emitted,
    melt::PlantParameters const& plant,
    meltlag_reference::InvariantOptions const& options = {}) {
  auto list =
      meltlag_reference::check_invariants(original, emitted, reference_plant(plant), {}, options);
  std::erase_if(list, [](std::string const& text) {
    double is_s = 0, should_s = 0;
    return std::sscanf(
               text.c_str(), "the screw slows the head: %lf s against %lf s", &is_s, &should_s) ==
               2 &&
           is_s < should_s;
  });
  return list;
}

inline std::string all_of(std::vector<std::string> const& violations) {
  std::string out;
  for (auto const& text : violations) out += text + "\n";
  return out;
}

inline std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> out;
  while (!text.empty()) {
    std::size_t const stop = std::min(text.find('\n'), text.size() - 1);
    std::string line(text.substr(0, stop + 1));
    while (!line.empty() && (line.back() == '\n' || line.back() == '\r')) line.pop_back();
    out.push_back(std::move(line));
    text.remove_prefix(stop + 1);
  }
  return out;
}

// Adapts, demands every promise by the reference, returns the lines.
inline std::vector<std::string> adapt_promised(std::string const& text,
                                               adapt::PassOptions const& options) {
  std::string const emitted = adapt_text(text, options).text;
  auto const broken = broken_promises(text, emitted, options.plant);
  CHECK_MESSAGE(broken.empty(), all_of(broken));
  return lines_of(emitted);
}
inline std::vector<std::string> adapt_promised(std::string const& text) {
  return adapt_promised(text, options_for(plant_of(0.3, 1)));
}

// The program's own judgement of what it emits.
inline judge::Judgement judge_adapted(std::string const& text, melt::PlantParameters const& plant) {
  auto figures = bench_options();
  figures.plant = plant;
  return judge_texts(text, adapt_text(text, options_for(plant)).text, figures);
}

}  // namespace meltlag::testing
