// SPDX-License-Identifier: MIT
// The test piece is read back as a printer would read it; nothing here trusts what it says of
// itself.
#include "meltlag/calibrate/test_piece.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"
#include "meltlag/motion/planner.hpp"
#include "piece_options.hpp"
#include "support/near.hpp"

namespace meltlag::calibrate {
namespace {

struct Part {
  std::string label;  // last comment before the move
  motion::TimedMove timed;
};

class Reading : public motion::TimedSink, public gcode::MeaningSink {
 public:
  Reading(std::string const& gcode, PieceOptions const& options)
      : planner_({.limits = options.limits}, *this) {
    gcode::Interpreter interpreter({.slicer_diameter_mm = options.slicer_diameter_mm}, notices_);
    auto source = gcode::LineSource::from_text(gcode, "test");
    gcode::RawLine raw;
    gcode::Block block;
    std::string label;
    while (source.next(raw)) {
      if (raw.text.substr(0, 2) == "; ") label = raw.text.substr(2);
      labels_[raw.line] = label;
      gcode::read_block(raw.text, block);
      block.line = raw.line;
      interpreter.interpret(block, *this);
    }
    planner_.finish();
  }
  void on_move(gcode::Move const& move) override { planner_.push(move); }
  void on_halt(gcode::Halt const& halt) override { planner_.push(halt); }
  void on_setting(gcode::Setting const& setting) override { planner_.push(setting); }
  void on_timed_move(motion::TimedMove const& timed) override {
    by_line_[timed.move.line] = parts_.size();
    parts_.push_back({labels_[timed.move.line], timed});
  }
  void on_halt(gcode::Halt const&, double) override {}

  [[nodiscard]] std::vector<Part> const& parts() const { return parts_; }
  [[nodiscard]] Part const& at(std::int64_t line) const { return parts_[by_line_.at(line)]; }
  [[nodiscard]] double duration_s() const { return planner_.time_s(); }

 private:
  Notices notices_;
  motion::Planner planner_;
  std::map<std::int64_t, std::string> labels_;
  std::map<std::int64_t, std::size_t> by_line_;
  std::vector<Part> parts_;
};

bool starts_with(std::string const& text, std::string_view start) {
  return text.compare(0, start.size(), start) == 0;
}

bool in_layer(Part const& part, int layer) {
  std::string const end = fmt::format(", layer {}", layer);
  bool const of_fence = starts_with(part.label, "trace") || starts_with(part.label, "lead-in");
  return of_fence && part.label.size() > end.size() &&
         part.label.compare(part.label.size() - end.size(), end.size(), end) == 0;
}

// Distance between two straight stretches seen from above.
double to_stretch(Vec3 p, gcode::Move const& move) {
  Vec3 const a = {move.start_mm.x, move.start_mm.y, 0}, b = {move.end_mm.x, move.end_mm.y, 0};
  Vec3 const d = b - a;
  double const part = dot(d, d) > 0 ? std::clamp(dot(p - a, d) / dot(d, d), 0.0, 1.0) : 0;
  return norm(p - (a + part * d));
}

double nearest_sampled(gcode::Move const& one, gcode::Move const& other) {
  double nearest = 1e9;
  for (int i = 0; i <= 50; ++i) {
    Vec3 const p = one.start_mm + (i / 50.0) * (one.end_mm - one.start_mm);
    nearest = std::min(nearest, to_stretch({p.x, p.y, 0}, other));
  }
  return nearest;
}

std::vector<PieceOptions> builds() {
  std::vector<PieceOptions> all;
  for (double const turn_mm : {0.0, 2.0, 20.0, 100.0}) {
    for (double const width_mm : {0.6, 1.0, 1.6}) {
      PieceOptions options = bench_options();
      options.bead_width_mm = width_mm;
      options.layers = 6;
      if (turn_mm > 0) options.e_mm_per_turn = turn_mm;
      all.push_back(options);
    }
  }
  return all;
}

std::string message_of(PieceOptions const& options) {
  try {
    static_cast<void>(make_test_piece(options));
  } catch (Error const& error) {
    CHECK(!error.hint().empty());
    return error.what();
  }
  return "";
}

bool says(std::vector<std::string> const& remarks, std::string const& words) {
  return std::any_of(remarks.begin(), remarks.end(), [&](std::string const& remark) {
    return remark.find(words) != std::string::npos;
  });
}

TEST_SUITE("calibrate") {
  TEST_CASE("every section's lines print that stretch of the wall at its speed in every layer") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      Reading const reading(piece.gcode, options);
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
    Reading const reading(piece.gcode, bench_options());
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
    Reading const reading(piece.gcode, bench_options());
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
        Reading const reading(piece.gcode, options);
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

  TEST_CASE("all that stays on the bed fits 100 mm by 100 mm in its middle") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      CHECK(piece.low_mm.x >= 50);
      CHECK(piece.low_mm.y >= 50);
      CHECK(piece.high_mm.x <= 150);
      CHECK(piece.high_mm.y <= 150);
      Reading const reading(piece.gcode, options);
      double purge_mm3 = 0, wanted_mm3 = 0;
      for (Part const& part : reading.parts()) {
        gcode::Move const& move = part.timed.move;
        bool const purge = part.label == "purge";
        (purge ? purge_mm3 : wanted_mm3) += move.volume_mm3;
        if (move.kind != gcode::MoveKind::print) continue;
        for (Vec3 const& p : {move.start_mm, move.end_mm}) {
          CHECK(std::min({p.x, p.y, 200 - p.x, 200 - p.y}) >= options.margin_mm);
          if (purge) continue;
          CHECK(p.x > piece.low_mm.x);
          CHECK(p.x < piece.high_mm.x);
          CHECK(p.y > piece.low_mm.y);
          CHECK(p.y < piece.high_mm.y);
          CHECK(p.z <= piece.high_mm.z + 1e-9);
        }
      }
      CHECK_NEAR(purge_mm3, piece.purge_mm3, 1e-3);
      CHECK(purge_mm3 >= 60);
      CHECK_NEAR(wanted_mm3, piece.wanted_mm3, 0.05);
      CHECK_NEAR(reading.duration_s(), piece.planned_s, 1e-6);
    }
  }

  TEST_CASE("walls stand at least 4.5 mm apart, and swollen beads do not touch") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      double slowest = 1e9, fastest = 0;
      for (Wall const& wall : piece.walls) {
        for (Section const& section : wall.sections) {
          slowest = std::min(slowest, section.speed_mm_s);
          fastest = std::max(fastest, section.speed_mm_s);
        }
      }
      for (std::size_t i = 1; i < piece.walls.size(); ++i) {
        double const pitch_mm = piece.walls[i].y_mm - piece.walls[i - 1].y_mm;
        CHECK(pitch_mm >= 4.5);
        CHECK(pitch_mm >= options.bead_width_mm * fastest / slowest + 0.2);
      }
    }
  }

  TEST_CASE("numbers, ruler and frame do not touch the fence") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      Reading const reading(piece.gcode, options);
      std::vector<gcode::Move> fence, low, frame;
      for (Part const& part : reading.parts()) {
        if (part.timed.move.kind != gcode::MoveKind::print) continue;
        if (in_layer(part, 1)) fence.push_back(part.timed.move);
        if (part.label == "ruler" || part.label == "numbers of the traces") {
          low.push_back(part.timed.move);
        }
        if (starts_with(part.label, "turn bead, layer 1")) frame.push_back(part.timed.move);
      }
      CHECK(fence.size() > 60);
      CHECK(low.size() > 100);
      for (gcode::Move const& wall : fence) {
        for (gcode::Move const& move : low) {
          // Beads at most 1.2 times as wide as the nominal one, strokes at most 0.9 mm wide.
          double const half_mm = 0.6 * options.bead_width_mm;
          CHECK(nearest_sampled(move, wall) >= half_mm + std::min(half_mm, 0.45) + 0.3);
        }
        for (gcode::Move const& move : frame) CHECK(nearest_sampled(wall, move) >= 4.5);
      }
    }
  }

  TEST_CASE("the head crosses the frame above it and nothing else is crossed by travel") {
    PieceOptions options = bench_options();
    options.e_mm_per_turn = 20;
    TestPiece const piece = make_test_piece(options);
    Reading const reading(piece.gcode, options);
    double frame_top_mm = 0;
    int crossings = 0;
    bool fence_begun = false;
    for (Part const& part : reading.parts()) {
      gcode::Move const& move = part.timed.move;
      if (starts_with(part.label, "turn bead")) frame_top_mm = move.end_mm.z;
      fence_begun = fence_begun || starts_with(part.label, "trace");
      if (move.kind != gcode::MoveKind::travel || frame_top_mm == 0) continue;
      bool const level = move.start_mm.z == move.end_mm.z;
      if (level && part.label == "over the frame to its inside") {
        ++crossings;
        CHECK(move.start_mm.z >= frame_top_mm + 1.9);
      }
      // Once the fence grows, the head leaves its walls upward only, at the very end.
      if (fence_begun && part.label != "the test piece ends") {
        CHECK(move.start_mm.y == move.end_mm.y);
      }
      if (part.label == "the test piece ends") CHECK(move.end_mm.z > move.start_mm.z);
    }
    CHECK(crossings == 1);
    CHECK_NEAR(frame_top_mm, 1.5, 1e-9);
  }

  TEST_CASE(
      "a lap of the frame is a whole number of the screw's turns, five turns or more in all") {
    for (double const turn_mm : {1.0, 3.3, 8.0, 20.0, 31.7, 46.0, 70.0, 80.0}) {
      CAPTURE(turn_mm);
      PieceOptions options = bench_options();
      options.e_mm_per_turn = turn_mm;
      options.layers = 3;
      TestPiece const piece = make_test_piece(options);
      REQUIRE(piece.turn_bead);
      TurnBead const& bead = *piece.turn_bead;
      CHECK(bead.turns_per_layer == std::round(bead.turns_per_layer));
      CHECK(bead.turns >= 5);
      std::map<std::string, double> laps;
      std::set<long> flows;
      Reading const reading(piece.gcode, options);
      for (Part const& part : reading.parts()) {
        gcode::Move const& move = part.timed.move;
        if (!starts_with(part.label, "turn bead")) continue;
        laps[part.label] += move.e_mm;
        flows.insert(std::lround(move.volume_mm3 / move.length_mm * move.feed_mm_s * 100));
        double const bead_part = move.volume_mm3 / move.length_mm / piece.section_mm2;
        CHECK(bead_part >= 0.699);
        CHECK(bead_part <= 1.801);
      }
      CHECK(laps.size() >= 5);
      for (auto const& [label, e_mm] : laps) {
        CHECK_CLOSE(e_mm / turn_mm, bead.turns_per_layer, 1e-4);
      }
      CHECK(flows.size() <= 2);  // one flow, give or take the last digit written
    }
  }

  TEST_CASE("a turn too large for a lap is said and leaves the nominal bead") {
    PieceOptions options = bench_options();
    options.e_mm_per_turn = 100;
    TestPiece const piece = make_test_piece(options);
    REQUIRE(piece.turn_bead);
    CHECK(says(piece.remarks, "not in step"));
    CHECK(piece.turn_bead->turns >= 5);
    CHECK_NEAR(
        piece.turn_bead->sections[0].e_mm_per_mm, piece.section_mm2 / circle_area(1.75), 1e-12);
  }

  TEST_CASE("the frame's sides carry lines of every lap, level and along X") {
    PieceOptions options = bench_options();
    options.e_mm_per_turn = 20;
    TestPiece const piece = make_test_piece(options);
    Reading const reading(piece.gcode, options);
    TurnBead const& bead = *piece.turn_bead;
    CHECK(bead.trace == 16);
    REQUIRE(bead.sections.size() == 2);
    for (std::size_t side = 0; side < 2; ++side) {
      Section const& section = bead.sections[side];
      REQUIRE(section.lines.size() == 5);
      for (std::int64_t const line : section.lines) {
        gcode::Move const& move = reading.at(line).timed.move;
        CHECK_NEAR(move.start_mm.x - piece.ruler_zero_x_mm, section.from_mm, 1e-3);
        CHECK_NEAR(move.end_mm.x - piece.ruler_zero_x_mm, section.to_mm, 1e-3);
        CHECK(move.start_mm.z == move.end_mm.z);
        CHECK_NEAR(move.end_mm.y, bead.corners[side == 0 ? 1 : 0].y, 1e-3);
      }
    }
  }

  TEST_CASE("the fence's layers do not keep step with a known turn") {
    for (double const turn_mm : {1.0, 2.0, 3.3, 5.0, 8.0}) {
      CAPTURE(turn_mm);
      PieceOptions options = bench_options();
      options.e_mm_per_turn = turn_mm;
      TestPiece const piece = make_test_piece(options);
      Reading const reading(piece.gcode, options);
      double e_mm = 0;
      for (Part const& part : reading.parts()) {
        if (in_layer(part, 4)) e_mm += part.timed.move.e_mm;
      }
      double const rest = e_mm / turn_mm - std::floor(e_mm / turn_mm);
      CHECK_NEAR(std::min(rest, 1 - rest), 0.382, 0.005);
    }
  }

  TEST_CASE("without a known turn the layers' volumes differ by up to 15 % of the return leg") {
    TestPiece const piece = make_test_piece(bench_options());
    Reading const reading(piece.gcode, bench_options());
    std::vector<double> volumes;
    for (int layer = 3; layer <= 20; ++layer) {
      double mm3 = 0;
      for (Part const& part : reading.parts()) {
        if (in_layer(part, layer)) mm3 += part.timed.move.volume_mm3;
      }
      volumes.push_back(mm3);
    }
    std::sort(volumes.begin(), volumes.end());
    double const leg_mm3 = piece.section_mm2 * (piece.loop[0].y - piece.loop[1].y);
    double const spread_mm3 = volumes.back() - volumes.front();
    CHECK(spread_mm3 <= 0.3 * leg_mm3);
    CHECK(spread_mm3 >= 0.24 * leg_mm3);
    for (std::size_t i = 1; i < volumes.size(); ++i) {
      CHECK(volumes[i] - volumes[i - 1] > 0.005 * leg_mm3);
    }
  }

  TEST_CASE("the file begins with cautions and facts, then the plain start") {
    TestPiece const piece = make_test_piece(bench_options());
    std::string const head = piece.gcode.substr(0, piece.gcode.find("M140 S60"));
    for (char const* const words : {"burn",
                                    "fumes",
                                    "Never leave the machine unattended",
                                    "data sheet",
                                    "height 0.300 mm",
                                    "width 1.000 mm",
                                    "purge before line one: 72.6 mm3"}) {
      CAPTURE(words);
      CHECK(head.find(words) != std::string::npos);
    }
    CHECK(head.find(fmt::format("without purge: {:.0f} mm3", piece.wanted_mm3)) !=
          std::string::npos);
    CHECK(head.find("\nG") == std::string::npos);
    CHECK(piece.gcode.find("M104 S205\nM190 S60\nM109 S205\nG28\n") != std::string::npos);
    CHECK(piece.gcode.find("G21\nG90\nM83\nG92 E0\n") != std::string::npos);
    std::string const end = "M104 S0\nM140 S0\nM84\n";
    CHECK(piece.gcode.find(end) == piece.gcode.size() - end.size());
    CHECK(std::all_of(piece.gcode.begin(), piece.gcode.end(), [](char c) {
      return c == '\n' || (c >= ' ' && c <= '~');
    }));
  }

  TEST_CASE("a person's own start and end code stand as given and the lines still count right") {
    PieceOptions options = bench_options();
    options.nozzle_c = 0;
    for (char const* const code : {"M104 S215\r\nG28 X Y\rG28 Z\r\nM82\nG1 E5 F100",
                                   "; heated by hand\n\n\nG28\n",
                                   "G28\nM201 X500 Y500\nM83"}) {
      CAPTURE(code);
      options.start_code = code;
      options.end_code = "M104 S0\nPARK_HEAD";
      TestPiece const piece = make_test_piece(options);
      CHECK(piece.gcode.find(code) != std::string::npos);
      CHECK(piece.gcode.find("M109") == std::string::npos);
      std::string const end = "end code as given\nM104 S0\nPARK_HEAD\n";
      CHECK(piece.gcode.find(end) == piece.gcode.size() - end.size());
      Reading const reading(piece.gcode, options);
      Section const& section = piece.walls[14].sections[0];
      gcode::Move const& move = reading.at(section.lines.back()).timed.move;
      CHECK_NEAR(move.end_mm.y, piece.walls[14].y_mm, 1e-3);
      CHECK_NEAR(move.end_mm.x - piece.ruler_zero_x_mm, section.to_mm, 1e-3);
    }
  }

  TEST_CASE("start code that changes the meaning of the lines is refused") {
    PieceOptions options = bench_options();
    for (char const* const code : {"M221 S90", "M220 S50", "M200 D2.85"}) {
      CAPTURE(code);
      options.start_code = code;
      CHECK(message_of(options).find("start code") != std::string::npos);
    }
  }

  TEST_CASE("options that cannot be printed are refused with what is wrong") {
    auto const message = [](auto change) {
      PieceOptions options = bench_options();
      change(options);
      return message_of(options);
    };
    auto const has = [](std::string const& text, char const* words) {
      CAPTURE(text);
      CHECK(text.find(words) != std::string::npos);
    };
    has(message([](PieceOptions& o) { o.bed_x_mm = 105; }), "does not fit");
    has(message([](PieceOptions& o) { o.bed_y_mm = 112; }), "does not fit");
    has(message([](PieceOptions& o) { o.nozzle_c = 0; }), "how hot");
    has(message([](PieceOptions& o) { o.layer_height_mm = 0.9; }), "layer height");
    has(message([](PieceOptions& o) { o.layer_height_mm = 0; }), "layer height");
    has(message([](PieceOptions& o) { o.bead_width_mm = 3; }), "width");
    has(message([](PieceOptions& o) { o.layers = 1; }), "layers");
    has(message([](PieceOptions& o) { o.fast_mm_s = 400; }), "fast speed of 400.0 mm/s");
    has(message([](PieceOptions& o) {
          o.max_flow_mm3_s = 5;
          o.fast_mm_s = 30;
        }),
        "8.4 mm³/s");
    has(message([](PieceOptions& o) {
          o.min_speed_mm_s = 5;
          o.slow_mm_s = 3;
        }),
        "below the slowest");
    has(message([](PieceOptions& o) {
          o.slow_mm_s = 20;
          o.fast_mm_s = 25;
        }),
        "1.5 times slow");
    has(message([](PieceOptions& o) {
          o.slow_mm_s = 10;
          o.medium_mm_s = 9;
        }),
        "above the one before");
    has(message([](PieceOptions& o) {
          o.limits.max_speed_mm_s[3] = 1;
          o.fast_mm_s = 20;
        }),
        "beyond what X, Y or E can do");
    has(message([](PieceOptions& o) { o.e_mm_per_turn = 0; }), "one turn");
    has(message([](PieceOptions& o) { o.start_code = "G1 X1 Yoops"; }), "Yoops");
  }

  TEST_CASE("speeds left to choice stay below the screw's greatest flow, and that is said") {
    PieceOptions options = bench_options();
    options.max_flow_mm3_s = 5;
    TestPiece const piece = make_test_piece(options);
    double fastest = 0, slowest = 1e9;
    for (Wall const& wall : piece.walls) {
      for (Section const& section : wall.sections) {
        fastest = std::max(fastest, section.speed_mm_s);
        slowest = std::min(slowest, section.speed_mm_s);
      }
    }
    CHECK_CLOSE(fastest * piece.section_mm2, 4.0, 0.02);
    CHECK_CLOSE(slowest * piece.section_mm2, 1.0, 0.02);
    CHECK(says(piece.remarks, "greatest flow"));
    Reading const reading(piece.gcode, options);
    for (Part const& part : reading.parts()) {
      gcode::Move const& move = part.timed.move;
      if (move.kind == gcode::MoveKind::e_only) {
        CHECK(move.feed_mm_s * circle_area(1.75) <= 5);
      }
    }
  }

  TEST_CASE("what the printer's limits do to the steps is said") {
    PieceOptions options = bench_options();
    CHECK(make_test_piece(options).remarks.empty());
    options.limits.acceleration_mm_s2 = 40;
    options.limits.travel_acceleration_mm_s2 = 40;
    CHECK(says(make_test_piece(options).remarks, "slowest change of speed"));
    options = bench_options();
    options.limits.max_speed_mm_s = {300, 300, 20, 60};
    options.start_code = "M203 X20 Y20";
    CHECK(says(make_test_piece(options).remarks, "of the speed it is given"));
  }

  TEST_CASE("a run-out goes on dry at one speed, then waits, from fast and from slow") {
    TestPiece const piece = make_test_piece(bench_options());
    std::map<int, double> speeds;
    for (Wall const& wall : piece.walls) {
      if (wall.group != Group::run_out) continue;
      REQUIRE(wall.sections.size() == 3);
      Section const& dry = wall.sections[1];
      CHECK(dry.e_mm_per_mm == 0);
      CHECK_NEAR(std::abs(dry.to_mm - dry.from_mm), 24, 1e-9);
      CHECK(dry.speed_mm_s == wall.sections[0].speed_mm_s);
      speeds[wall.copy] = dry.speed_mm_s;
    }
    CHECK(speeds[1] == speeds[3]);
    CHECK_CLOSE(speeds[1] / speeds[2], 4.0, 0.01);
    std::size_t dwells = 0;
    for (auto at = piece.gcode.find("\nG4 P1500\n"); at != std::string::npos;
         at = piece.gcode.find("\nG4 P1500\n", at + 1)) {
      ++dwells;
    }
    CHECK(dwells == 3 * 20);
  }

  TEST_CASE("what is retracted comes back, in three sizes") {
    TestPiece const piece = make_test_piece(bench_options());
    Reading const reading(piece.gcode, bench_options());
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
}  // namespace meltlag::calibrate
