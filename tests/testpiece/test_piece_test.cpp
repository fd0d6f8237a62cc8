// SPDX-License-Identifier: MIT
// What the fence is: its layers, groups and lead-in.
#include "meltlag/testpiece/test_piece.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "support/near.hpp"
#include "testpiece/piece_reading.hpp"

namespace meltlag::testpiece {
using namespace reading;
namespace {

TEST_SUITE("testpiece") {
  TEST_CASE("every section's lines print that stretch of the wall at its speed in every layer") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      ReadBack const reading(piece.gcode, options);
      double const area_mm2 = circle_area(options.slicer_diameter_mm);
      REQUIRE(piece.walls.size() == 15);
      for (Wall const& wall : piece.walls) {
        for (Section const& section : wall.sections) {
          REQUIRE(section.lines.size() == static_cast<std::size_t>(options.layers));
          for (std::size_t layer = 1; layer <= section.lines.size(); ++layer) {
            Part const& part = reading.at(section.lines[layer - 1]);
            gcode::Move const& move = part.timed.move;
            CHECK(part.label == fmt::format("trace {}: {}, copy {}, layer {}",
                                            wall.trace,
                                            name_of(wall.group),
                                            wall.copy,
                                            layer));
            CHECK_NEAR(move.start_mm.x - piece.ruler_zero_x_mm, section.from_mm, 1e-3);
            CHECK_NEAR(move.end_mm.x - piece.ruler_zero_x_mm, section.to_mm, 1e-3);
            CHECK_NEAR(move.start_mm.y, wall.y_mm, 1e-3);
            CHECK_NEAR(move.end_mm.y, wall.y_mm, 1e-3);
            CHECK_NEAR(move.end_mm.z, static_cast<double>(layer) * options.layer_height_mm, 1e-3);
            CHECK(move.start_mm.z == move.end_mm.z);
            CHECK_NEAR(move.feed_mm_s, section.speed_mm_s, 1e-4);
            CHECK_NEAR(part.timed.speed.peak_mm_s, section.speed_mm_s, 1e-4);
            double const mm3 = section.e_mm_per_mm > 0 ? piece.section_mm2 * move.length_mm : 0;
            CHECK_NEAR(move.volume_mm3, mm3, 1e-4 * area_mm2);
          }
        }
      }
    }
  }

  TEST_CASE("all layers are the same text but for Z and the return leg's E") {
    TestPiece const piece = make_test_piece(bench_options());
    std::map<int, std::string> layers;
    std::istringstream text(piece.gcode);
    std::string line;
    int layer = 0;
    while (std::getline(text, line)) {
      if (starts_with(line, "; the test piece ends")) break;
      auto const at = line.find(", layer ");
      if (at != std::string::npos && line[0] == ';') {
        layer = std::stoi(line.substr(at + 8));
        line.resize(at);
        if (starts_with(line, "; lead-in")) {
          std::getline(text, line);  // the return leg: Z and E of its own
          CHECK(line.find(" Z") != std::string::npos);
          line.clear();
        }
      }
      if (layer > 0) layers[layer] += line + "\n";
    }
    REQUIRE(layers.size() == 20);
    for (int i = 2; i <= 20; ++i) CHECK(layers[i] == layers[1]);
    CHECK(layers[1].find('Z') == std::string::npos);
  }

  TEST_CASE("the head never stops in the fence but for the pauses of the run-outs") {
    TestPiece const piece = make_test_piece(bench_options());
    ReadBack const reading(piece.gcode, bench_options());
    int stops = 0;
    for (Part const& part : reading.parts()) {
      if (!in_layer(part, 2) && !in_layer(part, 3)) continue;
      if (part.timed.speed.exit_mm_s > 1e-9) continue;
      ++stops;
      CHECK(part.label.find("run out") != std::string::npos);
    }
    // The pause in three walls of each layer.
    CHECK(stops == 2 * 3);
  }

  TEST_CASE("the layers are joined into one path whose corners are those of the loop") {
    TestPiece const piece = make_test_piece(bench_options());
    ReadBack const reading(piece.gcode, bench_options());
    std::vector<Vec3> corners;
    for (Part const& part : reading.parts()) {
      gcode::Move const& move = part.timed.move;
      if (!in_layer(part, 3) || move.kind == gcode::MoveKind::e_only) continue;
      if (corners.empty()) corners.push_back({move.start_mm.x, move.start_mm.y, 0});
      corners.push_back({move.end_mm.x, move.end_mm.y, 0});
    }
    CHECK(norm(corners.front() - corners.back()) < 1e-9);
    for (Vec3 const& corner : piece.loop) {
      CHECK(std::any_of(
          corners.begin(), corners.end(), [&](Vec3 p) { return norm(p - corner) < 2e-3; }));
    }
    CHECK(piece.loop.size() == 3 + 2 * 15 + 2);
  }

  TEST_CASE("each group stands once in each third, in an order that the seed decides") {
    std::set<std::string> orders;
    for (std::uint32_t seed = 1; seed <= 12; ++seed) {
      PieceOptions options = bench_options();
      options.layers = 3;
      options.seed = seed;
      TestPiece const piece = make_test_piece(options);
      std::string order;
      for (std::size_t i = 0; i < piece.walls.size(); ++i) {
        CHECK(piece.walls[i].trace == static_cast<int>(i) + 1);
        CHECK(piece.walls[i].copy == static_cast<int>(i / 5) + 1);
        order += static_cast<char>('0' + static_cast<int>(piece.walls[i].group));
      }
      for (std::size_t third = 0; third < 15; third += 5) {
        std::string sorted = order.substr(third, 5);
        std::sort(sorted.begin(), sorted.end());
        CHECK(sorted == "01234");
      }
      CHECK(make_test_piece(options).gcode == piece.gcode);
      orders.insert(order);
    }
    CHECK(orders.size() == 12);
  }

  TEST_CASE("the lead-in of every layer lasts four times the largest lag") {
    for (PieceOptions options : builds()) {
      for (double const lag_s : {1.0, 3.0, 5.0}) {
        options.largest_lag_s = lag_s;
        TestPiece const piece = make_test_piece(options);
        ReadBack const reading(piece.gcode, options);
        for (int layer = 1; layer <= options.layers; ++layer) {
          double begins_s = -1, ends_s = -1, mm3 = 0;
          for (Part const& part : reading.parts()) {
            if (!in_layer(part, layer)) continue;
            if (begins_s < 0) begins_s = part.timed.start_s;
            if (starts_with(part.label, "trace")) {
              ends_s = part.timed.start_s;
              break;
            }
            mm3 += part.timed.move.volume_mm3;
          }
          CHECK(ends_s - begins_s >= 4 * lag_s);
          CHECK(mm3 >= piece.lead_in_mm3 - 1e-3);
        }
      }
    }
  }

  TEST_CASE("run-outs start at fast and at very slow flow, go on dry, then wait") {
    TestPiece const piece = make_test_piece(bench_options());
    std::map<int, double> printed, dry_speed;
    for (Wall const& wall : piece.walls) {
      if (wall.group != Group::run_out) continue;
      REQUIRE(wall.sections.size() == 3);
      Section const& dry = wall.sections[1];
      CHECK(dry.e_mm_per_mm == 0);
      CHECK_NEAR(std::abs(dry.to_mm - dry.from_mm), 24, 1e-9);
      printed[wall.copy] = wall.sections[0].speed_mm_s;
      dry_speed[wall.copy] = dry.speed_mm_s;
    }
    CHECK(printed[1] == printed[3]);
    CHECK_CLOSE(printed[1] / printed[2], 8.0, 0.01);
    CHECK(dry_speed[1] == printed[1]);
    CHECK(dry_speed[2] == printed[2]);
    CHECK_CLOSE(printed[3] / dry_speed[3], 2.0, 0.01);
    std::size_t dwells = 0;
    for (auto at = piece.gcode.find("\nG4 P1500\n"); at != std::string::npos;
         at = piece.gcode.find("\nG4 P1500\n", at + 1)) {
      ++dwells;
    }
    CHECK(dwells == 3 * 20);
  }

  TEST_CASE("what is retracted comes back, in three sizes") {
    TestPiece const piece = make_test_piece(bench_options());
    ReadBack const reading(piece.gcode, bench_options());
    std::multiset<long> sizes;
    double sum_mm = 0;
    for (Part const& part : reading.parts()) {
      gcode::Move const& move = part.timed.move;
      if (move.kind != gcode::MoveKind::e_only || !in_layer(part, 5)) continue;
      sum_mm += move.e_mm;
      if (move.e_mm < 0) sizes.insert(std::lround(-move.volume_mm3 * 10));
    }
    CHECK_NEAR(sum_mm, 0, 1e-9);
    CHECK(sizes == std::multiset<long>{6, 6, 6, 15, 15, 15, 40, 40, 40});
  }
}

}  // namespace
}  // namespace meltlag::testpiece
