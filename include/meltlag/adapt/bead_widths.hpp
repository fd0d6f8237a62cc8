// SPDX-License-Identifier: MIT
// How wide the beads of a file would be, by their section and the height of their layer
// (melt/bead.hpp), and whether that can be meant.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <tuple>

#include "meltlag/gcode/block.hpp"
#include "meltlag/gcode/layers.hpp"

namespace meltlag::adapt {

// By length: half of the beads are narrower than `usual_mm`, a twentieth each than `least_mm` and
// wider than `most_mm`. All 0 where no bead lies on a layer of known height.
struct WidthFacts {
  double least_mm = 0, usual_mm = 0, most_mm = 0;
  double usual_height_mm = 0;      // of the layer, mean over the beads
  double volumetric_usual_mm = 0;  // of the same beads if E were mm³
};

class BeadWidths {
 public:
  explicit BeadWidths(double slicer_diameter_mm);
  void take(gcode::Move const& move);
  [[nodiscard]] WidthFacts facts() const;
  // Without the first layer, which is squeezed and often higher; of one layer alone the same.
  [[nodiscard]] WidthFacts upper_facts() const;

 private:
  [[nodiscard]] WidthFacts facts_of(bool with_first_layer) const;
  [[nodiscard]] double height_of(long steps, bool first_layer) const;

  double area_mm2_;  // of the filament
  gcode::LayerCounter layers_;
  std::map<long, long> heights_;  // how many layers rise so many steps above the one below
  // Lengths by section, height above the layer below, and whether it is the first, in steps.
  std::map<std::tuple<long, long, bool>, double> lengths_;
};

// In words, where beads are so wide that E must have been written as mm³ although no M200 says so;
// empty where nothing speaks for it. `widths` above the first layer; `nozzle_mm` where it is known.
[[nodiscard]] std::string looks_volumetric(WidthFacts const& widths,
                                           std::optional<double> nozzle_mm);

// An M200 with a diameter: from there on E is mm³.
[[nodiscard]] bool says_volumetric(gcode::Block const& block);

struct WidthSurvey {
  WidthFacts widths, upper;
  bool volumetric_said = false;
};
// Reads the whole file. Throws Error for what cannot be read.
[[nodiscard]] WidthSurvey survey_widths(std::string const& path,
                                        double slicer_diameter_mm,
                                        bool g91_covers_e);

}  // namespace meltlag::adapt
