// SPDX-License-Identifier: MIT
// Where each reading looks at the print, as stretches of the head's way.
#pragma once

#include <span>
#include <vector>

#include "meltlag/reading/predictor.hpp"

namespace meltlag::reading {

// A stretch of the way whose plastic is averaged; indices of places, ascending.
struct PlaceRange {
  std::size_t from = 0, to = 0;
  double length_mm = 0;
};

// One reading in one layer.
struct LayerModel {
  PlaceRange before, here, behind;  // width: off by the place error, right, off by it again
  std::vector<PlaceRange> scan;     // place_at_width, tail, gap: step by step along the way
  PlaceRange steady;                // tail: the bead before the screw stops
  double wanted_mm2 = 0;            // section that the file asks for at the place
};

struct ReadingModel {
  ReadingKind kind = ReadingKind::width;
  bool usable = true;
  double ruler_mm = 0, ruler_sign = 1;  // of the head's way along the ruler
  double locked_mm = 0;
  std::vector<LayerModel> layers;
  std::vector<PlaceRange> weighed;  // mass
  double fence_layers = 0;          // height: how many lie on each other
};

inline constexpr double scan_step_mm = 1;
inline constexpr double scan_reach_mm = 60;

struct ReadingModels {
  std::vector<ReadingModel> models;  // one a reading
  std::vector<double> places_mm;     // ascending, for Replay
};

[[nodiscard]] ReadingModels make_reading_models(PrintedPath const& path,
                                                std::span<Reading const> readings,
                                                PredictorOptions const& options);

}  // namespace meltlag::reading
