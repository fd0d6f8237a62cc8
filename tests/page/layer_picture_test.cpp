// SPDX-License-Identifier: MIT
#include "meltlag/page/layer_picture.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace meltlag;
using namespace meltlag::page;
using namespace meltlag::report;

namespace {

// One cell of 10 mm on a layer of 0.3 mm that asks for a bead of 0.8 mm: 2.4 mm³.
judge::CellRow bead(double x_mm, double z_mm, double before_mm3, double after_mm3) {
  judge::CellRow row;
  row.line = static_cast<std::int64_t>(x_mm);
  row.kind = gcode::MoveKind::print;
  row.start_mm = {x_mm, 5, z_mm};
  row.end_mm = {x_mm + 10, 5, z_mm};
  row.length_mm = 10;
  row.wanted_mm3 = 2.4;
  row.before.got_mm3 = before_mm3;
  row.after.got_mm3 = after_mm3;
  row.before.duration_s = row.after.duration_s = 0.4;
  return row;
}

std::string drawn(PathRecord const& record, std::size_t layer) {
  std::string text;
  write_layer_picture([&](std::string_view part) { text += part; }, record, layer);
  return text;
}

bool shows(std::string const& text, std::string const& part) {
  return text.find(part) != std::string::npos;
}

// A layer of two beads, and one of another height above it.
PathRecord two_layers() {
  PathRecord record;
  record.on_cell(bead(0, 0.3, 1.2, 2.4));
  record.on_cell(bead(10, 0.3, 3.6, 2.4));
  record.on_cell(bead(20, 0.6, 2.4, 2.4));
  record.finish();
  return record;
}

}  // namespace

TEST_SUITE("page") {
  TEST_CASE("a layer's beads are as wide as their plastic makes them, in the colour of the error") {
    std::string const text = drawn(two_layers(), 0);
    // 9 px a millimetre: half of 0.8 mm, half as much again, and right.
    CHECK(shows(text, "stroke=\"#2166ac\" stroke-width=\"3.60\""));
    CHECK(shows(text, "stroke=\"#b2182b\" stroke-width=\"10.80\""));
    CHECK(shows(text, "stroke=\"#cfd2d4\" stroke-width=\"7.20\""));
    CHECK(shows(text, "as sliced: 50.0 % misplaced"));
    CHECK(shows(text, "adapted: 0.0 % misplaced"));
  }

  TEST_CASE("a layer's picture shows that layer alone") {
    PathRecord const record = two_layers();
    REQUIRE(record.layers().size() == 2);
    std::string const text = drawn(record, 1);
    CHECK(!shows(text, "stroke=\"#2166ac\""));
    CHECK(shows(text, "as sliced: 0.0 % misplaced"));
    CHECK(shows(text, "<title>Layer 2 "));
  }
}
