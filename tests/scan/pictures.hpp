// SPDX-License-Identifier: MIT
// A hidden machine prints the ring piece, the reference takes a picture of it, the room reads it.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <unordered_map>
#include <vector>

#include "meltlag/scan/widths.hpp"
#include "meltlag/testpiece/ring_piece.hpp"
#include "picture.hpp"

namespace meltlag::scan {

inline std::string scratch(std::string const& name) {
  std::string const folder = std::filesystem::temp_directory_path() /
                             ("meltlag_scan_" + std::to_string(static_cast<long>(::getpid())));
  std::filesystem::create_directories(folder);
  return folder + "/" + name;
}

struct ScratchFile {
  std::string path;
  explicit ScratchFile(std::string const& name) : path(scratch(name)) {}
  ~ScratchFile() { std::filesystem::remove(path); }
  ScratchFile(ScratchFile const&) = delete;
  ScratchFile& operator=(ScratchFile const&) = delete;
};

inline testpiece::PieceOptions ring_options() {
  testpiece::PieceOptions options{.slicer_diameter_mm = 1.75,
                                  .limits = {.acceleration_mm_s2 = 800,
                                             .travel_acceleration_mm_s2 = 800,
                                             .corner_jump_mm_s = {10, 10, 0.4, 5},
                                             .max_speed_mm_s = {300, 300, 20, 60},
                                             .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}}};
  options.max_flow_mm3_s = 10;
  options.nozzle_c = 205;
  return options;
}

// The printed piece and what is true of it.
struct Printed {
  std::string gcode_path;
  meltlag_reference::HeadMotion motion;
  std::vector<meltlag_reference::BeadPlace> bead;
};

inline Printed print_rings(std::string const& gcode_path,
                           meltlag_reference::HiddenMachine const& hidden,
                           meltlag_reference::BeadOptions const& bead) {
  std::string const gcode = testpiece::make_ring_piece(ring_options()).gcode;
  std::ofstream(gcode_path, std::ios::binary) << gcode;
  Printed out{.gcode_path = gcode_path,
              .motion = meltlag_reference::plan_motion(gcode, {}, 1.75),
              .bead = {}};
  out.bead = meltlag_reference::lay_bead(
      out.motion, meltlag_reference::simulate_print(out.motion, hidden), bead);
  return out;
}

inline meltlag_reference::HiddenMachine machine(double run_on_mm3, double index) {
  meltlag_reference::HiddenMachine hidden;
  hidden.plant.run_on_mm3 = run_on_mm3;
  hidden.plant.at_flow_mm3_s = 5;
  hidden.plant.flow_index = index;
  return hidden;
}

// How read widths differ from the true ones.
struct Agreement {
  double bias_mm = 0, scatter_mm = 0;
  std::size_t read = 0, asked = 0;  // places of the path, those near steps and turns left aside
  std::size_t steep_read = 0, steep = 0;  // of those, where the bead gains or loses 0.25 mm a mm
  double thin_bias_mm = 0;  // where the bead is 0.38 to 0.5 mm wide over half a millimetre
  std::size_t thin_read = 0;
  std::size_t faulty = 0,
              believed = 0;  // places that a planted fault spoils, and those still believed

  void add_thin(double read_mm, double true_mm) {
    if (true_mm < 0.38 || true_mm > 0.5) return;
    ++thin_read;
    thin_bias_mm += (read_mm - true_mm - thin_bias_mm) / static_cast<double>(thin_read);
  }
};

using BeadAt = std::vector<meltlag_reference::BeadPlace>::const_iterator;
inline double mean_width(std::vector<meltlag_reference::BeadPlace> const& bead, BeadAt at) {
  BeadAt const from = at - std::min<std::ptrdiff_t>(2, at - bead.begin());
  BeadAt const to = at + std::min<std::ptrdiff_t>(3, bead.end() - at);
  double sum = 0;
  for (BeadAt place = from; place != to; ++place) sum += place->width_mm();
  return sum / static_cast<double>(to - from);
}

// A fault spoils a place where it lies on an edge of the bead there.
inline bool spoils(meltlag_reference::Fault const& fault,
                   meltlag_reference::BeadPlace const& place) {
  double const x = fault.x_mm - place.x_mm, y = fault.y_mm - place.y_mm;
  double const along = std::abs(x * place.ny - y * place.nx), aside = x * place.nx + y * place.ny;
  if (along > fault.radius_mm) return false;
  return std::min(std::abs(aside - place.left_mm), std::abs(aside + place.right_mm)) <
         0.7 * fault.radius_mm;
}

// What a fault has to do to a width to count: more than what widths scatter by anyhow.
inline constexpr double harm_mm = 0.06;

inline Agreement agreement_of(Printed const& printed,
                              ScanResult const& result,
                              std::vector<meltlag_reference::Fault> const& faults = {}) {
  std::unordered_map<std::int64_t, double> start;
  for (std::size_t i = 0; i < printed.motion.program.moves.size(); ++i)
    start[static_cast<std::int64_t>(printed.motion.program.moves[i].line)] =
        printed.motion.way_mm[i];
  Agreement out;
  std::vector<double> errors;
  for (Width const& width : result.widths) {
    if (!width.prints || width.doubt == Doubt::at_step) continue;
    double const way = start.at(width.line) + width.at_mm;
    auto const near = std::lower_bound(
        printed.bead.begin(), printed.bead.end(), way - 0.05, [](auto const& place, double at) {
          return place.way_mm < at;
        });
    if (near == printed.bead.end()) continue;
    auto const next = near + 1 == printed.bead.end() ? near : near + 1;
    double const error = width.width_mm - (near->width_mm() + next->width_mm()) / 2;
    bool faulty = false;
    for (auto const& fault : faults) faulty = faulty || spoils(fault, *near);
    if (faulty) {
      if (std::abs(error) < harm_mm) continue;
      ++out.faulty;
      if (width.doubt == Doubt::none) ++out.believed;
      continue;
    }
    if (width.doubt == Doubt::none) out.add_thin(width.width_mm, mean_width(printed.bead, near));
    if (near->width_mm() < 0.5) continue;  // no bead to read
    bool const steep = near - printed.bead.begin() > 5 && printed.bead.end() - near > 6 &&
                       std::abs((near + 5)->width_mm() - (near - 5)->width_mm()) > 0.25;
    ++out.asked;
    out.steep += steep;
    if (width.doubt != Doubt::none) continue;
    ++out.read;
    out.steep_read += steep;
    errors.push_back(error);
  }
  for (double const error : errors) out.bias_mm += error / static_cast<double>(errors.size());
  double squares = 0;
  for (double const error : errors) squares += (error - out.bias_mm) * (error - out.bias_mm);
  out.scatter_mm = std::sqrt(squares / static_cast<double>(errors.size()));
  return out;
}

}  // namespace meltlag::scan
