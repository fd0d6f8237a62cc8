// SPDX-License-Identifier: MIT
#include "meltlag/gcode/layers.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "program.hpp"
#include "support/near.hpp"
#include "support/vase.hpp"

using namespace meltlag::gcode;
using namespace meltlag::testing;
using meltlag::Vec3;

namespace {

LayerCounter layers_of(std::string const& text) {
  LayerCounter layers;
  for (Move const& move : run(text).moves) layers.take(move);
  return layers;
}

// A square of one height.
std::string square(double z_mm) {
  std::string const z = std::to_string(z_mm);
  return "G1 X0 Y0 Z" + z + " F6000\nG1 X20 E1\nG1 Y20 E1\nG1 X0 E1\nG1 Y0 E1\n";
}

}  // namespace

TEST_SUITE("gcode") {
  TEST_CASE("beads of one height in a row are a layer, with its height above the one before") {
    LayerCounter layers;
    std::vector<double> heights;
    for (double const z : {0.4, 0.7, 1.0, 1.5}) {
      for (Move const& move : run("G90\nM83\n" + square(z)).moves)
        if (layers.take(move)) heights.push_back(layers.height_mm());
      CHECK_FALSE(layers.climbs());
      CHECK_NEAR(layers.z_mm(), z, 1e-9 /* mm */);
    }
    REQUIRE(heights.size() == 4);
    CHECK(layers.count() == 4);
    double const expected[] = {0.4, 0.3, 0.3, 0.5};
    for (std::size_t i = 0; i < 4; ++i) CHECK_NEAR(heights[i], expected[i], 1e-9 /* mm */);
  }

  TEST_CASE("a lift between beads begins no layer, the next object's first layer does") {
    LayerCounter const lifted =
        layers_of("G90\nM83\n" + square(0.3) + "G1 Z1 F600\n" + square(0.3));
    CHECK(lifted.count() == 1);
    LayerCounter const next =
        layers_of("G90\nM83\n" + square(0.3) + square(0.6) + square(0.3) + square(0.6));
    CHECK(next.count() == 4);
    CHECK_NEAR(next.height_mm(), 0.3, 1e-9 /* mm */);
  }

  TEST_CASE("plastic given on a lift is no layer") {
    LayerCounter const layers =
        layers_of("G90\nM83\n" + square(0.3) + square(0.6) + "G1 Z2 E1 F600\nG1 X1 Z5 E1\n");
    CHECK(layers.count() == 2);
    CHECK_NEAR(layers.height_mm(), 0.3, 1e-9 /* mm */);
  }

  TEST_CASE("Z counts from where the machine stands, whatever G92 calls it") {
    LayerCounter const layers =
        layers_of("G90\nM83\n" + square(0.3) + "G92 Z0\n" + square(0.3) + "G92 Z0\n" + square(0));
    CHECK(layers.count() == 2);
    CHECK_NEAR(layers.z_mm(), 0.6, 1e-9 /* mm */);
  }

  TEST_CASE("a spiral wall has one layer for each turn, whatever its chords") {
    for (int const chords : {4, 7, 40, 360}) {
      CAPTURE(chords);
      LayerCounter const vase = layers_of(spiral_vase({.turns = 10, .chords = chords}));
      CHECK(vase.count() == 10);
      CHECK(vase.climbs());
      CHECK_NEAR(vase.height_mm(), 0.3, 1e-4 /* mm */);
    }
    CHECK(layers_of(spiral_vase({.turns = 25, .chords = 30, .turn_mm = 0.2})).count() == 25);
  }

  TEST_CASE("pieces of beads give the layers of the beads") {
    LayerCounter whole, pieces;
    for (Move const& move : run(spiral_vase()).moves) {
      whole.take(move);
      if (move.kind != MoveKind::print) continue;
      constexpr int parts = 6;
      for (int i = 0; i < parts; ++i)
        pieces.take_bead(point_at(move, move.length_mm * i / parts),
                         point_at(move, move.length_mm * (i + 1) / parts));
    }
    CHECK(pieces.count() == whole.count());
  }

  TEST_CASE("a wall in arcs has one layer for each turn") {
    std::string text = "G90\nM83\nG1 X0 Y0 Z0 F1200\n";
    for (int turn = 0; turn < 8; ++turn) {
      char line[96];
      std::snprintf(line, sizeof line, "G3 X20 Y0 Z%.3f I10 J0 E3\n", 0.4 * turn + 0.2);
      text += line;
      std::snprintf(line, sizeof line, "G3 X0 Y0 Z%.3f I-10 J0 E3\n", 0.4 * turn + 0.4);
      text += line;
    }
    LayerCounter const layers = layers_of(text);
    CHECK(layers.count() == 8);
    CHECK_NEAR(layers.height_mm(), 0.4, 1e-6 /* mm */);
  }

  TEST_CASE(
      "a wall on level layers rises by their height, short level beads in it change nothing") {
    std::string text = "G90\nM83\n" + square(0.25) + square(0.5);
    std::string const way[] = {"G1 X20 Y0", "G1 X20 Y20", "G1 X0 Y20", "G1 X0 Y0"};
    for (int i = 1; i <= 24; ++i) {
      char line[64];
      std::snprintf(line, sizeof line, " Z%.4f E1\n", 0.5 + 0.25 * i / 4);
      text += way[(i - 1) % 4] + line;
      text += i % 4 == 1 ? "G1 X20 Y0.1 E0.01\n" : "";  // as high as the one before
    }
    LayerCounter const layers = layers_of(text);
    CHECK(layers.count() == 2 + 6);
    CHECK_NEAR(layers.z_mm(), 2.0, 1e-6 /* mm */);
  }

  TEST_CASE("a bead that ramps up to its layer is of this layer") {
    std::string const ramp = "G1 X0 Y0 Z0.3 F6000\nG1 X2 Z0.45 E0.1\nG1 X4 Z0.6 E0.2\n";
    LayerCounter const layers = layers_of("G90\nM83\n" + square(0.3) + ramp + square(0.6) + ramp +
                                          square(0.6) + square(0.9));
    CHECK(layers.count() == 3);
  }
}
