// SPDX-License-Identifier: MIT
// A print of a machine that is known here, measured by the slow reference simulation.
#pragma once

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "meltlag/compare/comparison.hpp"
#include "reference/measure.hpp"

namespace meltlag::compare {

namespace reference = meltlag_reference;

// A file of the tests that goes away with it.
class ScratchFile {
 public:
  explicit ScratchFile(std::string const& text) {
    static int count = 0;
    path_ = (std::filesystem::temp_directory_path() /
             ("meltlag-compare-" + std::to_string(getpid()) + "-" + std::to_string(count++)))
                .string();
    std::ofstream(path_, std::ios::binary) << text;
  }
  ScratchFile(ScratchFile const&) = delete;
  ScratchFile& operator=(ScratchFile const&) = delete;
  ~ScratchFile() { std::filesystem::remove(path_); }
  [[nodiscard]] std::string const& path() const { return path_; }

 private:
  std::string path_;
};

inline std::string number(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.5f", value);
  return text;
}

// Seed-tray walls: beads of changing flow with stops, short and long travels between them.
struct Walls {
  std::string text;
  std::vector<std::int64_t> lines;  // of the beads
  std::vector<double> lengths_mm;
};
inline Walls seed_tray_walls(int layers) {
  Walls walls;
  std::int64_t line = 0;
  auto const write = [&](std::string const& text) {
    walls.text += text + "\n";
    return ++line;
  };
  for (char const* head : {"G21", "G90", "M83", "M104 S205", "M109 S205"}) write(head);
  double const height = 0.5, filament = 2.405281875;
  for (int layer = 1; layer <= layers; ++layer) {
    write("G1 Z" + number(height * layer) + " F600");
    for (int wall = 0; wall < 6; ++wall) {
      double const y = 10 + 8 * wall, width = wall % 2 == 0 ? 1.2 : 1.8;
      double const speed = wall % 3 == 0 ? 7 : 14;
      write("G0 X10 Y" + number(y) + " F" + (wall % 3 == 1 ? "600" : "6000"));
      write("G1 E0.8 F1500");
      double const section = height * width - (1 - 3.14159265358979 / 4) * height * height;
      for (double const length : {30.0, 25.0}) {
        double const x = 10 + (length == 25.0 ? 55 : 30);
        walls.lines.push_back(write("G1 X" + number(x) + " Y" + number(y) + " E" +
                                    number(section * length / filament) + " F" +
                                    number(60 * speed * (length == 25.0 ? 1.8 : 1))));
        walls.lengths_mm.push_back(length);
      }
      write("G1 E-0.8 F1500");
    }
  }
  write("M104 S0");
  return walls;
}

inline reference::HiddenMachine hidden_machine(double run_on_mm3) {
  reference::HiddenMachine hidden;
  hidden.plant.run_on_mm3 = run_on_mm3;
  hidden.plant.at_flow_mm3_s = 5;
  hidden.plant.flow_index = 0.6;
  hidden.plant.delivered_factor = 0.96;
  hidden.plant.slicer_diameter_mm = 1.75;
  return hidden;
}

inline reference::Machine printer() {
  reference::Machine machine;
  machine.limits.acceleration_mm_s2 = machine.limits.travel_acceleration_mm_s2 = 800;
  machine.limits.jump_mm_s = {10, 10, 0.4, 5};
  machine.limits.max_speed_mm_s = {300, 300, 20, 60};
  machine.limits.max_acceleration_mm_s2 = {9000, 9000, 500, 5000};
  return machine;
}

inline CompareOptions options_of(double run_on_mm3) {
  CompareOptions options{
      .program = {.slicer_diameter_mm = 1.75,
                  .limits = {.acceleration_mm_s2 = 800,
                             .travel_acceleration_mm_s2 = 800,
                             .corner_jump_mm_s = {10, 10, 0.4, 5},
                             .max_speed_mm_s = {300, 300, 20, 60},
                             .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}}},
      .plant = {.law = {.run_on_mm3 = run_on_mm3, .at_flow_mm3_s = 5, .flow_index = 0.6},
                .feed = {.slicer_diameter_mm = 1.75, .delivered_factor = 0.96}}};
  options.density_g_cm3 = 1.24;
  return options;
}

// Widths along every bead, as a person with calipers reads them.
inline std::vector<MeasuredRow> measured_widths(Walls const& walls,
                                                reference::HiddenMachine const& hidden,
                                                reference::Measuring const& how) {
  std::vector<reference::SheetRow> sheet;
  std::vector<MeasuredRow> rows;
  for (std::size_t i = 0; i < walls.lines.size(); ++i) {
    for (double at = 3; at < walls.lengths_mm[i]; at += 7) {
      reference::SheetRow row;
      row.trace = "wall";
      row.kind = "width";
      row.lines = {static_cast<std::size_t>(walls.lines[i])};
      row.at_mm = {at};
      sheet.push_back(row);
      rows.push_back({.kind = MeasuredKind::width,
                      .line = walls.lines[i],
                      .to_line = walls.lines[i],
                      .at_mm = at});
    }
  }
  auto const values = reference::measure_sheet(walls.text, sheet, hidden, printer(), how);
  for (std::size_t i = 0; i < rows.size(); ++i) rows[i].value = values[i].value();
  return rows;
}

// Flow out of the nozzle as a balance under it would tell it, every `every_s` of planned time.
inline std::vector<std::pair<double, double>> flow_record(Walls const& walls,
                                                          reference::HiddenMachine const& hidden,
                                                          double every_s) {
  reference::HeadMotion const motion = reference::plan_motion(walls.text, printer(), 1.75);
  reference::Barrel barrel(hidden.plant);
  std::vector<std::pair<double, double>> record;
  double now = 0, next = every_s, out = 0;
  auto const stretch = [&](double v0, double a, double seconds, double e_per_mm) {
    double done = 0;
    while (seconds - done > 1e-12) {
      double const step = std::min(next - now, seconds - done);
      out += barrel.advance(v0 + a * done, a, step, e_per_mm);
      done += step;
      now += step;
      if (now < next - 1e-12) continue;
      record.emplace_back(next - every_s / 2, out / every_s);
      out = 0;
      next += every_s;
    }
  };
  for (std::size_t j = 0; j < motion.program.moves.size(); ++j) {
    reference::Move const& move = motion.program.moves[j];
    reference::Timed const& t = motion.timed[j];
    bool const head = move.kind != reference::MoveKind::e_only;
    double const e_per_mm = head ? move.e_mm / move.length_mm : move.e_mm > 0 ? 1 : -1;
    stretch(t.v_in_mm_s, t.a_mm_s2, t.accelerate_s, e_per_mm);
    stretch(t.v_peak_mm_s, 0, t.cruise_s, e_per_mm);
    stretch(t.v_peak_mm_s, -t.a_mm_s2, t.brake_s, e_per_mm);
  }
  return record;
}

inline reference::Measuring plain_calipers() {
  reference::Measuring how;
  how.height_mm = 0.5;
  how.height_error_mm = 0;
  return how;
}

}  // namespace meltlag::compare
