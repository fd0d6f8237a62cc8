// SPDX-License-Identifier: MIT
// Blobs and gaps off pictures of the hardware piece, held against what the hidden machines laid.
#include <doctest/doctest.h>
#include <unistd.h>

#include "meltlag/base/error.hpp"
#include "meltlag/compare/verdict.hpp"
#include "meltlag/fit/hardware.hpp"
#include "meltlag/scan/hardware.hpp"
#include "meltlag/testpiece/hardware_piece.hpp"
#include "pictures.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::scan;
namespace ref = meltlag_reference;

namespace {

testpiece::HardwarePiece piece_for_picture(double retract_mm) {
  return testpiece::make_hardware_piece(
      {.piece = ring_options(), .retract_mm = retract_mm, .for_picture = true});
}

double width_of(double section_mm2, double height_mm) {
  return section_mm2 / height_mm + (1 - 3.14159265358979 / 4) * height_mm;
}

// What an eye without error reads: the volume around the stop beyond the bead's own, the way until
// the bead has half its width.
fit::HardwareReading exact(ref::HeadMotion const& motion,
                           ref::Print const& print,
                           testpiece::HardwareBead const& bead) {
  double const begin = motion.way_mm[motion.find(static_cast<std::size_t>(bead.line))];
  double const end = begin + 30, h = 0.3;
  double const steady = (print.until(begin + 26) - print.until(begin + 16)) / 10;
  fit::HardwareReading out{.stop = bead.stop, .flow_mm3_s = bead.flow_mm3_s};
  out.blob_mm3 = print.until(end + 1) - print.until(end - 3) - 3 * steady;
  for (double at = 0; at < 30 && !out.gap_mm; at += 0.05) {
    double const section = (print.until(begin + at + 0.4) - print.until(begin + at - 0.4)) / 0.8;
    if (width_of(section, h) >= width_of(steady, h) / 2) out.gap_mm = at;
  }
  return out;
}

struct Sheets {
  fit::HardwareSheet exact, scanned;
};

Sheets print_and_scan(testpiece::HardwarePiece const& piece,
                      ref::HiddenMachine const& hidden,
                      ref::PictureOptions options) {
  ScratchFile const gcode("h.gcode"), picture("h.png");
  std::ofstream(gcode.path, std::ios::binary) << piece.gcode;
  ref::HeadMotion const motion = ref::plan_motion(piece.gcode, {}, 1.75);
  ref::Print const print = ref::simulate_print(motion, hidden);
  options.file = picture.path;
  options.dpi = 300;
  (void)ref::take_picture(ref::lay_bead(motion, print, {.seed = options.seed}), options);
  Sheets out;
  for (testpiece::HardwareBead const& bead : piece.beads)
    out.exact.readings.push_back(exact(motion, print, bead));
  HardwareScan const scan = scan_hardware(gcode.path, picture.path, {});
  for (HardwareStop const& stop : scan.stops) {
    fit::HardwareReading reading{.stop = stop.stop, .flow_mm3_s = stop.flow_mm3_s};
    if (stop.blob_mm2) reading.blob_mm3 = *stop.blob_mm2 * scan.layer_height_mm;
    reading.gap_mm = stop.gap_mm;
    out.scanned.readings.push_back(reading);
  }
  return out;
}

compare::Comparison held(Sheets const& old_print,
                         Sheets const& new_print,
                         fit::HardwareSheet Sheets::*by,
                         fit::Quantity quantity) {
  return compare::compare_builds(fit::without_flow(old_print.*by, quantity),
                                 fit::without_flow(new_print.*by, quantity));
}

}  // namespace

TEST_SUITE("scan") {
  TEST_CASE("blobs and gaps off pictures tell two machines apart as exact values do") {
    testpiece::HardwarePiece const piece = piece_for_picture(0);
    ref::PictureOptions face_up, face_down;
    face_up.dust = 100;
    face_up.piece_turn_deg = 33;
    face_up.piece_x_mm = 3;
    face_up.seed = 5;
    face_down.piece_turn_deg = 190;
    face_down.mirrored = true;
    Sheets const old_print = print_and_scan(piece, machine(5, 0.6), face_up);
    Sheets const new_print = print_and_scan(piece, machine(0.8, 0.6), face_down);
    for (auto const quantity : {&fit::HardwareReading::blob_mm3, &fit::HardwareReading::gap_mm}) {
      bool const blob = quantity == &fit::HardwareReading::blob_mm3;
      compare::Comparison const exact = held(old_print, new_print, &Sheets::exact, quantity);
      compare::Comparison const seen = held(old_print, new_print, &Sheets::scanned, quantity);
      MESSAGE((blob ? "blob" : "gap")
              << ", exact " << exact.old_build.mean << " and " << exact.new_build.mean << ", seen "
              << seen.old_build.mean << " ± " << seen.old_build.sd << " and " << seen.new_build.mean
              << " ± " << seen.new_build.sd);
      CHECK(seen.old_build.prints >= 22);
      CHECK(seen.new_build.prints >= 22);
      CHECK(seen.verdict == compare::Verdict::better);
      CHECK(exact.verdict == seen.verdict);
      CHECK_NEAR(seen.difference, exact.difference, blob ? 0.06 /*mm³*/ : 0.8 /*mm*/);
    }
  }

  TEST_CASE("blobs that retracts leave are read, and a file for calipers is refused") {
    ScratchFile const gcode("hw.gcode");
    std::ofstream(gcode.path, std::ios::binary)
        << testpiece::make_hardware_piece({.piece = ring_options()}).gcode;
    try {
      (void)scan_hardware(gcode.path, "no.png", {});
      FAIL("the form for calipers was taken");
    } catch (Error const& error) {
      CHECK(std::string(error.what()).find("no hardware piece in the form for pictures") !=
            std::string::npos);
    }
    ref::PictureOptions options;
    options.granules = {{40, 60, 200}};
    Sheets const print = print_and_scan(piece_for_picture(1), machine(5, 0.6), options);
    double const exact = fit::spread_of(print.exact).blob_mm3.mean;
    fit::Spread const seen = fit::spread_of(print.scanned).blob_mm3;
    MESSAGE("exact " << exact << ", seen " << seen.mean << " ± " << seen.sd << " mm³");
    CHECK(seen.count >= 22);
    CHECK_NEAR(seen.mean, exact, 0.12 /*mm³*/);
    CHECK(seen.sd < 0.06);
  }
}
