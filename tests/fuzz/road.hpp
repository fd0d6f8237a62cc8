// SPDX-License-Identifier: MIT
// The whole road of one file: adapt, read back, judge, prove.
#pragma once

#include <cmath>
#include <filesystem>
#include <fstream>
#include <random>
#include <string>

#include "machine.hpp"
#include "meltlag/adapt/pass.hpp"
#include "meltlag/judge/cell.hpp"
#include "meltlag/judge/judge.hpp"
#include "target.hpp"

namespace meltlag::fuzz {

// A folder of this process's own.
struct Files {
  std::filesystem::path folder = std::filesystem::temp_directory_path() /
                                 ("meltlag-fuzz-" + std::to_string(std::random_device{}()));
  std::string original = (folder / "original.gcode").string();
  std::string emitted = (folder / "emitted.gcode").string();
  Files() { std::filesystem::create_directories(folder); }
  ~Files() { std::filesystem::remove_all(folder); }
  Files(Files const&) = delete;
  Files& operator=(Files const&) = delete;
  void write_original(std::string_view bytes) const {
    std::ofstream(original, std::ios::binary) << bytes;
  }
};

// What pictures are drawn from.
class CellCheck final : public judge::CellSink {
 public:
  void on_cell(judge::CellRow const& cell) override {
    for (judge::CellSide const& side : {cell.before, cell.after})
      promise(std::isfinite(side.got_mm3) && std::isfinite(side.start_s) && side.duration_s >= 0,
              "a cell is not finite");
    promise(std::isfinite(cell.length_mm) && std::isfinite(cell.wanted_mm3), "a cell is nowhere");
  }
};

// The bits choose a machine.
inline melt::PlantParameters chosen(unsigned char byte) {
  auto out = plant(byte & 1 ? 5 : 1.5, byte & 2 ? 0.5 : 1);
  if (byte & 4) out.feed.delivered_factor = 0.9;
  if (byte & 8) out.feed.backlash_mm = 0.1;
  if (byte & 16) out.leak_per_s = 0.05;
  if (byte & 32) out.feed.reverse_factor = 0.7;
  return out;
}

inline adapt::PassOptions options_of(unsigned char byte) {
  adapt::PassOptions options{};
  options.plant = chosen(byte);
  options.limits = machine_limits();
  options.plant.supply.max_flow_mm3_s = 15;
  options.marker = "; adapted by meltlag for a test";
  return options;
}

// As the command does it: further from the limits where the check finds one broken. Holds that no
// promise is broken then.
inline void walk(Files const& files, adapt::PassOptions options) {
  judge::JudgeOptions figures{.plant = options.plant, .limits = options.limits};
  if (options.price_mm3_per_s > 0) {
    constexpr double any_time = 1000;
    figures.extra_time = any_time;
    figures.speeds = judge::Speeds::lowered;
  }
  judge::Judgement judged;
  CellCheck cells;
  for (double const caution : {0.0, 0.03, 0.1}) {
    options.caution = caution;
    Notices notices;
    {
      std::ofstream out(files.emitted, std::ios::binary);
      (void)adapt::adapt_pass(
          files.original, options, [&](std::string_view text) { out << text; }, notices);
    }
    judged = judge::judge_files(files.original, files.emitted, figures, notices, nullptr, &cells);
    if (judged.violation_count == 0 || judged.parting) break;
  }
  promise(std::isfinite(judged.before.misplaced_mm3), "a figure is not finite");
  if (judged.parting) promise(false, "the path parts: " + judged.parting->text);
  // After an E-only move that stays the head may start a little slower than before: hundredths of
  // a second, which only a file of a few seconds is refused for.
  constexpr double start_s = 0.05;
  bool const in_time = judged.after.planned_s <= judged.before.planned_s + start_s;
  if (judged.violation_count == 1 && in_time &&
      judged.violations.front().starts_with("the planned time grows"))
    return;
  if (judged.violation_count > 0) promise(false, judged.violations.front());
}

}  // namespace meltlag::fuzz
