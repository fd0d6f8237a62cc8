// SPDX-License-Identifier: MIT
#include "meltlag/adapt/side_by_side.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

#include "judge/judged_texts.hpp"
#include "meltlag/adapt/pass.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/judge/differences.hpp"
#include "reference/reference.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::adapt;
using namespace meltlag::judge;
using meltlag::Notices;
namespace reference = meltlag_reference;

std::string const folder = MELTLAG_SOURCE_DIR "/samples/";

std::string slurp(std::string const& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

struct Scratch {
  std::string path =
      (std::filesystem::temp_directory_path() / ("meltlag-side-" + std::to_string(getpid())))
          .string();
  explicit Scratch(std::string const& text, char const* more = "") {
    path += std::string{more} + ".gcode";
    std::ofstream(path, std::ios::binary) << text;
  }
  Scratch(Scratch const&) = delete;
  Scratch& operator=(Scratch const&) = delete;
  ~Scratch() { std::filesystem::remove(path); }
};

SideBySideOptions plain() { return {.slicer_diameter_mm = 1.75}; }

// Beads as start, end and volume, in order.
struct Bead {
  double x0, y0, x1, y1, z, e;
};
std::vector<Bead> beads(std::string const& text) {
  std::vector<Bead> out;
  for (reference::Move const& m : reference::read_program(text, {}, {}).moves)
    if (m.kind == reference::MoveKind::print)
      out.push_back({m.start_mm[0], m.start_mm[1], m.end_mm[0], m.end_mm[1], m.end_mm[2], m.e_mm});
  return out;
}

PassOptions adapt_options(SideBySideJob const& job) {
  auto const bench = meltlag::testing::bench_options();
  PassOptions options{};
  options.plant = bench.plant;
  options.limits = bench.limits;
  options.flow_alone = job.flow_alone;
  options.marker = "; adapted by meltlag test";
  return options;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("both copies hold every bead of the part, one of them moved aside") {
    for (char const* name : {"seed-tray-foot.gcode", "cable-clip-arcs.gcode"}) {
      CAPTURE(name);
      Notices notices;
      SideBySideJob const job = side_by_side(folder + name, plain(), notices);
      auto const once = beads(slurp(folder + name)), twice = beads(job.text);
      REQUIRE(twice.size() == 2 * once.size());
      std::vector<Bead> left, right;
      double border = once.front().x0;
      for (Bead const& b : once) border = std::max({border, b.x0, b.x1});
      for (Bead const& b : twice) (std::min(b.x0, b.x1) > border ? right : left).push_back(b);
      REQUIRE(left.size() == once.size());
      REQUIRE(right.size() == once.size());
      for (std::size_t i = 0; i < once.size(); ++i) {
        for (auto const& [bead, dx] :
             {std::pair{left[i], 0.0}, std::pair{right[i], job.offset_mm}}) {
          CHECK_NEAR(bead.x0, once[i].x0 + dx, 1e-6);
          CHECK_NEAR(bead.y0, once[i].y0, 1e-6);
          CHECK_NEAR(bead.x1, once[i].x1 + dx, 1e-6);
          CHECK_NEAR(bead.y1, once[i].y1, 1e-6);
          CHECK_NEAR(bead.z, once[i].z, 1e-6);
          CHECK_NEAR(bead.e, once[i].e, 1e-6);
        }
      }
    }
  }

  TEST_CASE("a purge line beside the part is no part of it: printed once, and no wider for it") {
    std::string const layers =
        "G1 Z0.3 F600\nG0 X60 Y50 F6000\nG1 X100 E3 F1500\nG1 Y60 E1\nG1 X60 E3\n"
        "G1 Z0.6\nG0 X60 Y50\nG1 X100 E3 F1500\nG1 Y60 E1\nG1 X60 E3\n";
    std::string const start = "G21\nG90\nM83\nG0 X2 Y20 F6000\nG1 Z0.3 F600\n";
    std::string const purge = "G1 X2 Y120 E9 F1200\nG1 X2.8\nG1 Y20 E9\n";
    Notices notices;
    Scratch const plain_part(start + layers, "-plain"), purging(start + purge + layers, "-purge");
    SideBySideJob const without = side_by_side(plain_part.path, plain(), notices);
    SideBySideJob const with = side_by_side(purging.path, plain(), notices);
    CHECK(with.offset_mm == without.offset_mm);
    CHECK_NEAR(with.offset_mm, 45, 1e-9);  // 40 mm of part and 5 of gap
    auto const at_left = [](std::vector<Bead> const& all) {
      return std::count_if(all.begin(), all.end(), [](Bead const& b) { return b.x1 < 10; });
    };
    CHECK(at_left(beads(with.text)) == 2);
    CHECK(beads(with.text).size() == 2 + beads(without.text).size());
    // A skirt goes round the part: it stays one of its layers.
    std::string const skirt = "G0 X50 Y40\nG1 X110 E5 F1200\nG1 Y70 E3\nG1 X50 E5\nG1 Y40 E3\n";
    Scratch const skirted(start + skirt + layers);
    CHECK_NEAR(side_by_side(skirted.path, plain(), notices).offset_mm, 65, 1e-9);
  }

  TEST_CASE("the order alternates and the head never goes down") {
    Notices notices;
    SideBySideJob const job = side_by_side(folder + "seed-tray-foot.gcode", plain(), notices);
    REQUIRE(job.layers > 1);
    std::vector<Copy> first(static_cast<std::size_t>(job.layers) + 1, Copy::none);
    std::int32_t last = 0;
    for (JobLine const& line : job.lines) {
      if (line.copy == Copy::none) continue;
      CHECK(line.layer >= last);
      last = line.layer;
      Copy& seen = first[static_cast<std::size_t>(line.layer)];
      if (seen == Copy::none) seen = line.copy;
    }
    for (std::size_t k = 1; k < first.size(); ++k)
      CHECK(first[k] == (k % 2 == 1 ? Copy::left : Copy::right));
    double z = 0;
    for (Bead const& bead : beads(job.text)) {
      CHECK(bead.z >= z);
      z = bead.z;
    }
  }

  TEST_CASE("adapting the job leaves the left copy's E alone and improves the right one") {
    Notices notices;
    SideBySideJob const job = side_by_side(folder + "seed-tray-foot.gcode", plain(), notices);
    Scratch const file(job.text);
    std::string adapted;
    (void)meltlag::adapt::adapt_pass(
        file.path, adapt_options(job), [&](std::string_view text) { adapted += text; }, notices);
    double border = job.offset_mm + job.x_from_mm - 1;
    std::vector<Bead> before, after;
    for (Bead const& b : beads(job.text))
      if (b.x1 < border) before.push_back(b);
    for (Bead const& b : beads(adapted))
      if (b.x1 < border) after.push_back(b);
    // On the way to the right copy the screw may build up: those pieces come on top.
    std::size_t found = 0;
    for (Bead const& b : after) {
      Bead const& next = before[std::min(found, before.size() - 1)];
      bool const same =
          std::hypot(b.x1 - next.x1, b.y1 - next.y1) < 1e-6 && std::abs(b.e - next.e) < 1e-6;
      found += found < before.size() && same ? 1 : 0;
    }
    CHECK(found == before.size());
    CHECK(after.size() < 1.1 * static_cast<double>(before.size()));
    // Judged by the slow reference on both copies apart.
    reference::Plant plant;
    plant.max_flow_mm3_s = 15;
    plant.run_on_mm3 = 1.5;
    plant.at_flow_mm3_s = 5;
    plant.flow_index = 1;
    auto const verdict = reference::judge(job.text, adapted, plant, {});
    auto const program = reference::read_program(job.text, {}, plant);
    double left = 0, right = 0;
    for (reference::Cell const& cell : verdict.cell_table)
      (program.moves[cell.move].end_mm[0] < border ? left : right) +=
          std::abs(cell.got_mm3 - cell.wanted_mm3);
    INFO("misplaced left " << left << " mm³, right " << right << " mm³");
    // As much as the part would be bettered alone.
    std::string const part = slurp(folder + "seed-tray-foot.gcode");
    std::string alone;
    (void)meltlag::adapt::adapt_pass(
        folder + "seed-tray-foot.gcode",
        adapt_options({}),
        [&](std::string_view text) { alone += text; },
        notices);
    auto const misplaced = [&](std::string const& emitted) {
      auto const judged = reference::judge(part, emitted, plant, {});
      return judged.misplaced_percent / 100 * judged.wanted_mm3;
    };
    CHECK_CLOSE(right, misplaced(alone), 0.05);
    CHECK_CLOSE(left, misplaced(part), 0.05);
    CHECK(right < 0.8 * left);
    // The program tells the same of each copy, of what that copy wants.
    Scratch const emitted(adapted, "-emitted");
    CopyMetrics copies(job);
    JudgeOptions figures{.plant = adapt_options(job).plant, .limits = adapt_options(job).limits};
    figures.prove = Prove::figures_only;
    (void)judge_files(file.path, emitted.path, figures, notices, nullptr, &copies);
    double const half = verdict.wanted_mm3 / 2;
    CHECK_CLOSE(copies.left_misplaced_share(), left / half, 0.02);
    CHECK_CLOSE(copies.right_misplaced_share(), right / half, 0.02);
    CHECK(reference::check_invariants(job.text, adapted, plant, {}).empty());
  }

  TEST_CASE("with a delivered factor the left copy has its flow set right, and no more") {
    Notices notices;
    SideBySideOptions pair = plain();
    pair.delivered_factor = 0.91;
    SideBySideJob const job = side_by_side(folder + "seed-tray-foot.gcode", pair, notices);
    CHECK_NEAR(job.left_flow_share, 1 / 0.91, 1e-12);
    Scratch const file(job.text);
    PassOptions options = adapt_options(job);
    options.plant.feed.delivered_factor = 0.91;
    std::string adapted;
    (void)meltlag::adapt::adapt_pass(
        file.path, options, [&](std::string_view text) { adapted += text; }, notices);
    double const border = job.offset_mm + job.x_from_mm - 1;
    std::vector<Bead> before, after;
    for (Bead const& b : beads(job.text))
      if (b.x1 < border) before.push_back(b);
    for (Bead const& b : beads(adapted))
      if (b.x1 < border) after.push_back(b);
    // On the way to the right copy the screw may build up: those pieces come on top.
    std::size_t found = 0;
    for (Bead const& b : after) {
      if (found == before.size()) break;
      Bead const& next = before[found];
      bool const same = std::hypot(b.x1 - next.x1, b.y1 - next.y1) < 1e-6;
      if (same && std::abs(b.e - next.e / 0.91) < 2e-5) ++found;
    }
    CHECK(found == before.size());
    reference::Plant plant;
    plant.delivered_factor = 0.91;
    plant.max_flow_mm3_s = 15;
    plant.run_on_mm3 = 1.5;
    plant.at_flow_mm3_s = 5;
    plant.flow_index = 1;
    auto const verdict = reference::judge(job.text, adapted, plant, {});
    auto const program = reference::read_program(job.text, {}, plant);
    double left = 0, right = 0;
    for (reference::Cell const& cell : verdict.cell_table)
      (program.moves[cell.move].end_mm[0] < border ? left : right) +=
          std::abs(cell.got_mm3 - cell.wanted_mm3);
    // The flow setting of a slicer, on one part alone.
    PassOptions alone = adapt_options({});
    alone.plant.feed.delivered_factor = 0.91;
    alone.rewrite = Rewrite::flow_alone;
    std::string flow_alone;
    (void)meltlag::adapt::adapt_pass(
        folder + "seed-tray-foot.gcode",
        alone,
        [&](std::string_view text) { flow_alone += text; },
        notices);
    auto const judged =
        reference::judge(slurp(folder + "seed-tray-foot.gcode"), flow_alone, plant, {});
    CHECK_CLOSE(left, judged.misplaced_percent / 100 * judged.wanted_mm3, 0.05);
    CHECK(right < 0.8 * left);
    CHECK(reference::check_invariants(job.text, adapted, plant, {}).empty());
  }

  TEST_CASE("the places with the most plastic between the copies are named") {
    Notices notices;
    SideBySideJob const job = side_by_side(folder + "seed-tray-foot.gcode", plain(), notices);
    Scratch const file(job.text);
    std::string adapted;
    PassOptions const options = adapt_options(job);
    (void)meltlag::adapt::adapt_pass(
        file.path, options, [&](std::string_view text) { adapted += text; }, notices);
    std::string const emitted = file.path + ".out";
    std::ofstream(emitted, std::ios::binary) << adapted;
    DifferenceFinder finder(job);
    (void)judge_files(
        file.path,
        emitted,
        {.plant = options.plant, .limits = options.limits, .prove = Prove::figures_only},
        notices,
        &finder);
    std::filesystem::remove(emitted);
    auto const found = finder.finish(10);
    REQUIRE(found.size() >= 3);
    CHECK(found.size() <= 10);
    double last = 1e9;
    std::set<std::pair<double, double>> places;
    for (Difference const& d : found) {
      double const weight = std::abs(d.left_mm3 - d.right_mm3) * d.layers;
      CHECK(weight <= last);
      last = weight;
      CHECK(d.x_mm < job.offset_mm + job.x_from_mm);
      CHECK(d.layers <= job.layers);
    }
    // The right one ends its beads without blobs.
    std::size_t blobs = 0;
    for (Difference const& d : found) {
      if (d.mark != Mark::blob) continue;
      ++blobs;
      CHECK(d.left_mm3 > d.right_mm3);
    }
    CHECK(blobs <= 4);
  }

  TEST_CASE("strings are looked for both ways, also where one way has many more") {
    SideBySideJob job;
    job.offset_mm = 100;
    // Twelve travels of 20 mm, each on both copies; on the last one the right copy has more.
    for (int travel = 0; travel < 12; ++travel)
      for (Copy const copy : {Copy::left, Copy::right})
        job.lines.push_back({.copy = copy, .layer = 1, .line = travel + 1});
    DifferenceFinder finder(job);
    for (int travel = 0; travel < 12; ++travel) {
      for (int const side : {0, 1}) {
        MoveRow row;
        row.line = 2 * travel + side + 1;
        row.kind = meltlag::gcode::MoveKind::travel;
        row.length_mm = 20;
        row.end_mm = {20.0 * travel + 100 * side, 10, 0.3};
        bool const less_here = travel == 11 ? side == 0 : side == 1;
        row.got_after_mm3 = less_here ? 0.0 : travel == 11 ? 0.2 : 1.0 + 0.1 * travel;
        finder.on_row(row);
      }
    }
    auto const found = finder.finish(5);
    REQUIRE(found.size() == 5);
    CHECK(std::count_if(found.begin(), found.end(), [](Difference const& d) {
            return d.mark == Mark::string && d.right_mm3 > d.left_mm3;
          }) == 1);
  }

  TEST_CASE("what cannot take turns is refused in words") {
    struct Bad {
      char const* text;
      char const* says;
    };
    std::string const head = "G90\nM83\nG1 Z0.3 F600\nG1 X10 F6000\n";
    for (Bad const& bad : {Bad{"G91\nG1 X10 E1 F900\n", "relative"},
                           Bad{"G1 X50 Z0.5 E1 F900\n", "climbs"},
                           Bad{"G1 X50 E1 F900\nG1 Z0.6\nG1 X10 E1\nG1 Z0.3\nG1 X50 E1\n", "down"},
                           Bad{"G92 X0\nG1 X50 E1 F900\n", "G92"},
                           Bad{"M221 S90\nG1 X50 E1 F900\n", "M221"},
                           Bad{"N10 G1 X50 E1 F900\n", "line numbers"},
                           Bad{"; adapted by meltlag 1\nG1 X50 E1 F900\n", "adapted"},
                           Bad{"G1 X50 F900\n", "extrudes nothing"}}) {
      CAPTURE(bad.text);
      Scratch const file(head + bad.text);
      Notices notices;
      try {
        (void)side_by_side(file.path, plain(), notices);
        FAIL("nothing was refused");
      } catch (meltlag::Error const& error) {
        CAPTURE(error.what());
        CHECK(std::string(error.what()).find(bad.says) != std::string::npos);
      }
    }
    Scratch const wide(head + "G1 X120 E5 F900\n");
    Notices notices;
    SideBySideOptions options = plain();
    options.bed_x_mm = 220;
    CHECK_THROWS_AS((void)side_by_side(wide.path, options, notices), meltlag::Error);
    options.bed_x_mm = 300;
    CHECK(side_by_side(wide.path, options, notices).x_to_mm <= 300);
  }
}
