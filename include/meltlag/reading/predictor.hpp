// SPDX-License-Identifier: MIT
// What a machine's print would measure: from plastic laid down to calipers, ruler and scale.
//
// A bead of height h and width w has the section w·h − (1 − π/4)·h² (a slab with half rounds at its
// sides), so that w = section/h + (1 − π/4)·h. This is used below w = h too, down to section 0.
// Calipers see the mean over their jaw (caliper.hpp) and over the layers.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "meltlag/reading/caliper.hpp"
#include "meltlag/reading/reading.hpp"
#include "meltlag/reading/replay.hpp"

namespace meltlag::reading {

// How well people measure. Common practice, no source.
struct MeasuringErrors {
  double width_mm = 0.05;
  double place_mm = 1.0;
  double jaw_mm = 4.0;
  double layer_height_mm = 0.03;  // of a trace's layers, before its fence is measured
  double fence_height_mm = 0.1;   // of one measured height of the whole fence
  double mass_g = 0.02;
};

struct PredictorOptions {
  double layer_height_mm;
  double density_g_cm3 = 0;  // > 0 where masses are to be used
  MeasuringErrors errors = {};
  int most_layers = 0;  // of each reading, evenly spread; 0: all
};

// A predicted reading. `sd` is what measuring scatters: of the tool and of its place.
struct Predicted {
  double value = 0;
  double sd = 0;
  double slope_per_mm = 0;  // of a width along the head's way
  double bend_mm = 0;       // what smearing by the place error (as a deviation) adds to a width
  bool thin = false;        // the bead is thinner than its height: less sure
};

// What one machine lays down near every reading: made by simulate(), read by predict().
class Laid {
 public:
  // scale · this + share · (other − this), place by place.
  [[nodiscard]] Laid mixed(double scale, double share, Laid const& other) const;

 private:
  friend class Predictor;
  std::vector<double> out_mm3_;
};

class Predictor {
 public:
  // Readings of kind mass without density are never predicted (see usable()).
  Predictor(PrintedPath const& path,
            std::span<Reading const> readings,
            PredictorOptions const& options);
  ~Predictor();
  Predictor(Predictor&&) noexcept;

  [[nodiscard]] Laid simulate(TestedPlant const& plant) const;
  // Reading `index` on a fence with layers of that height.
  [[nodiscard]] Predicted predict(Laid const& laid,
                                  std::size_t index,
                                  double layer_height_mm) const;
  [[nodiscard]] bool usable(std::size_t index) const;

 private:
  struct Models;
  std::unique_ptr<Models> models_;
};

}  // namespace meltlag::reading
