// SPDX-License-Identifier: MIT
// What calipers read is predicted by one model, whoever asks.
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "meltlag/compare/comparison.hpp"
#include "meltlag/reading/predictor.hpp"
#include "support/near.hpp"
#include "synthetic_rows.hpp"

using namespace meltlag;

namespace {

// A wall with a fast part between slow ones, a chord that turns a little, a corner, a short end.
constexpr char wall[] =
    "G90\nM83\nG1 Z0.4 F600\nG0 X0 Y0 F6000\n"
    "G1 X30 E6 F600\n"
    "G1 X60 E6 F2400\n"
    "G1 X90 Y4 E6 F600\n"
    "G1 Y40 E8 F600\n"
    "G1 X91 E0.2\n";

}  // namespace

TEST_SUITE("compare") {
  TEST_CASE("a width is predicted the same for the comparison and for the fit") {
    compare::CompareOptions options = compare::options_of(5);
    options.layer_height_mm = 0.4;
    compare::ScratchFile const file(wall);
    Notices notices;
    reading::PrintedPath const path =
        reading::read_path(gcode::LineSource(file.path()), options.program, notices);
    std::vector<compare::MeasuredRow> rows;
    std::vector<reading::Reading> readings;
    auto const add = [&](std::int64_t line, double at_mm) {
      rows.push_back(
          {.kind = compare::MeasuredKind::width, .line = line, .to_line = line, .at_mm = at_mm});
      readings.push_back({.kind = reading::ReadingKind::width, .lines = {line}, .at_mm = {at_mm}});
    };
    for (double const at : {0.0, 0.5, 1.5, 10.0, 29.0}) add(5, at);
    for (double const at : {1.0, 15.0, 29.5}) add(6, at);
    for (double const at : {1.0, 28.0, 30.0}) add(7, at);
    for (double const at : {0.2, 20.0, 35.8}) add(8, at);
    add(9, 0.5);
    auto const c = compare::compare(file.path(), "", rows, options, notices);
    reading::Predictor const predictor(
        path,
        readings,
        {.layer_height_mm = 0.4,
         .errors = {.place_mm = options.tools.place_mm, .jaw_mm = options.tools.jaw_mm}});
    reading::Laid const laid = predictor.simulate({.plant = options.plant});
    for (std::size_t i = 0; i < rows.size(); ++i) {
      CAPTURE(rows[i].line);
      CAPTURE(*rows[i].at_mm);
      reading::Predicted const p = predictor.predict(laid, i, 0.4);
      CHECK_NEAR(c.rows[i].predicted, p.value, 1e-6 /* mm */);
    }
  }
}
