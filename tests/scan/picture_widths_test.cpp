// SPDX-License-Identifier: MIT
// Widths off rendered pictures against the truth that they were rendered from. Bounds: half a
// caliper's step of 0.02 mm at 600 dpi; published work with flatbed scanners reaches 0.05 mm
// (Divis, Mair, Corney, "Desktop scanner based metrology", abstract).
#include <doctest/doctest.h>
#include <unistd.h>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/fit/fit.hpp"
#include "pictures.hpp"

using namespace meltlag;
using namespace meltlag::scan;
namespace ref = meltlag_reference;

namespace {

void tell(char const* name, Agreement const& got) {
  MESSAGE(std::string(name) << ": bias " << got.bias_mm << " mm, scatter " << got.scatter_mm
                            << " mm, read " << got.read << " of " << got.asked
                            << ", faults believed " << got.believed << " of " << got.faulty);
}

double read_share(Agreement const& got) {
  return static_cast<double>(got.read) / static_cast<double>(got.asked);
}

fit::FitResult fit_of(Printed const& printed, ScanResult const& result) {
  testpiece::PieceOptions const options = ring_options();
  Notices notices;
  reading::PrintedPath const path =
      reading::read_path(gcode::LineSource(printed.gcode_path),
                         {.slicer_diameter_mm = 1.75, .limits = options.limits},
                         notices);
  Sheet const sheet = Sheet::parse(write_scan_sheet(result, 2), "the sheet");
  return fit::fit(path,
                  reading::read_readings(sheet, path),
                  {.feed = {}, .factor_sd = 0.01, .predictor = {.layer_height_mm = 0.3}});
}

double run_on_at(ref::HiddenMachine const& hidden, double flow_mm3_s) {
  return hidden.plant.run_on_mm3 * std::pow(flow_mm3_s / 5, hidden.plant.flow_index);
}

}  // namespace

// Four times the pixels, for what other tests do at 300 dpi.
TEST_CASE("a scan of 600 dpi, face down, off scale, skewed, stretched, with dust and hairs" *
          doctest::test_suite("scan/study")) {
  ScratchFile const gcode("a.gcode"), picture("a.jpg");
  ref::BeadOptions const bead{.uneven_mm = 0.05, .seed = 5};
  Printed const printed = print_rings(gcode.path, machine(2, 0.6), bead);
  ref::PictureOptions options{.file = picture.path, .dpi = 600};
  options.piece_turn_deg = 133;
  options.piece_x_mm = 1.2;
  options.mirrored = true;
  options.page_turn_deg = 2;
  options.page_scale_x = 1.01;
  options.page_scale_y = 0.99;
  options.scan_scale_x = 0.99;
  options.scan_scale_y = 1.01;
  options.skew_deg = 0.3;
  options.stretch_mm = 0.2;
  options.dust = 300;
  options.hairs = 30;
  options.granules = {{225, 60, 40}, {235, 180, 60}, {90, 200, 90}, {230, 230, 225}};
  auto const faults = ref::take_picture(printed.bead, options);
  // What a person measures of the bars of a page printed so, with a ruler.
  ScanResult const result = scan_picture(
      gcode.path, picture.path, {.nozzle_mm = 0.9, .bar_x_mm = 151.5, .bar_y_mm = 148.5});
  CHECK(result.face_down);
  CHECK(std::abs(std::remainder(result.turn_deg - 133, 360)) < 0.05);
  CHECK_FALSE(result.picture_mirrored);
  CHECK(result.marks == 22);
  CHECK(std::abs(result.pixel_mm - 25.4 / 600) < 0.0003);
  Agreement const got = agreement_of(printed, result, faults);
  tell("600 dpi", got);
  CHECK(std::abs(got.bias_mm) <= 0.01);
  CHECK(got.scatter_mm <= 0.02);
  CHECK(read_share(got) >= 0.95);
  REQUIRE(got.faulty >= 40);
  CHECK(static_cast<double>(got.believed) <= 0.05 * static_cast<double>(got.faulty));
}

TEST_CASE("a scan of 300 dpi tells the machine: run-on, flow index and lag") {
  ScratchFile const gcode("b.gcode"), picture("b.jpg");
  ref::HiddenMachine const hidden = machine(4, 0.5);
  ref::BeadOptions const bead{.uneven_mm = 0.05, .wander_share = 0.02, .seed = 3};
  Printed const printed = print_rings(gcode.path, hidden, bead);
  ref::PictureOptions options{.file = picture.path, .dpi = 300};
  options.piece_turn_deg = 300;
  ref::take_picture(printed.bead, options);
  ScanResult const result = scan_picture(gcode.path, picture.path, {});
  CHECK_FALSE(result.face_down);
  CHECK(result.coarse_colour);
  CHECK(std::abs(std::remainder(result.turn_deg - 300, 360)) < 0.1);
  Agreement const got = agreement_of(printed, result);
  tell("300 dpi", got);
  CHECK(got.scatter_mm <= 0.03);
  CHECK(read_share(got) >= 0.95);
  MESSAGE("thin beads: bias " << got.thin_bias_mm << " mm, " << got.thin_read << " places");
  REQUIRE(got.thin_read >= 20);
  CHECK(std::abs(got.thin_bias_mm) <= 0.025);

  fit::FitResult const fit = fit_of(printed, result);
  double const wanted = run_on_at(hidden, fit.law.at_flow_mm3_s);
  MESSAGE("run-on " << fit.run_on_mm3.value << " +- " << fit.run_on_mm3.sd << ", true " << wanted
                    << "; flow index " << fit.flow_index.value << " +- " << fit.flow_index.sd);
  CHECK(std::abs(fit.run_on_mm3.value / wanted - 1) < 0.08);
  CHECK(std::abs(fit.flow_index.value - 0.5) < 0.06);
  REQUIRE(fit.dense);
  CHECK(std::abs(fit.dense->slope_x_mm.value - 0.025) < 0.02);
}

TEST_CASE("on white paper shadows beside beads are no plastic") {
  ScratchFile const gcode("c.gcode"), picture("c.tif");
  Printed const printed = print_rings(gcode.path, machine(1, 0.8), {});
  ref::PictureOptions options{.file = picture.path, .dpi = 300};
  options.background = {245, 245, 243};
  options.granules = {{200, 40, 30}, {60, 70, 160}};
  ref::take_picture(printed.bead, options);
  Agreement const got = agreement_of(printed, scan_picture(gcode.path, picture.path, {}));
  tell("white, 300 dpi", got);
  // Where the bead thins fast its edges must not be taken for leaps.
  MESSAGE("of " << got.steep << " steep places " << got.steep_read << " are read");
  CHECK(static_cast<double>(got.steep_read) >= 0.65 * static_cast<double>(got.steep));
  CHECK(got.scatter_mm <= 0.03);
  CHECK(std::abs(got.bias_mm) <= 0.03);
  CHECK(read_share(got) >= 0.95);
}

TEST_CASE("a photo that leans by 15 degrees, through a lens that bends, with glare") {
  ScratchFile const gcode("d.gcode"), picture("d.jpg");
  Printed const printed = print_rings(gcode.path, machine(2, 0.6), {});
  ref::PictureOptions options{.file = picture.path, .dpi = 280};
  options.jpeg_quality = 92;
  options.piece_turn_deg = 200;
  options.page_turn_deg = 88;
  options.tilt_deg = 15;
  options.radial = -0.02;
  options.glare = 0.6;
  options.noise = 3;
  ref::take_picture(printed.bead, options);
  ScanResult const result = scan_picture(gcode.path, picture.path, {});
  Agreement const got = agreement_of(printed, result);
  tell("photo", got);
  CHECK(got.scatter_mm <= 0.03);
  CHECK(read_share(got) >= 0.95);
}

TEST_CASE("what came off is left out, what lies aside is followed") {
  ScratchFile const gcode("e.gcode"), picture("e.png");
  ref::BeadOptions bead;
  bead.lost_from_mm = 2000;
  bead.lost_to_mm = 2030;
  bead.loose_from_mm = 3000;
  bead.loose_to_mm = 3150;
  bead.loose_by_mm = 0.8;
  Printed const printed = print_rings(gcode.path, machine(1, 0.8), bead);
  ref::PictureOptions options{.file = picture.path, .dpi = 240};
  ref::take_picture(printed.bead, options);
  ScanResult const result = scan_picture(gcode.path, picture.path, {});
  double const first = printed.bead.front().way_mm;
  int lost = 0, followed = 0, loose = 0;
  for (Width const& width : result.widths) {
    double const way = width.way_mm + first;
    if (way > 2001 && way < 2029 && width.doubt == Doubt::none) ++lost;
    if (way < 3060 || way > 3090 || !width.prints || width.doubt == Doubt::at_step) continue;
    ++loose;
    if (width.doubt == Doubt::none && std::abs(width.aside_mm) > 0.6) ++followed;
  }
  CHECK(lost == 0);
  REQUIRE(loose > 100);
  CHECK(followed > 0.9 * loose);
}

// On a black page, then turned on a white one.
Agreement from_two_pages(ref::PictureOptions options, ScanResult& result) {
  ScratchFile const gcode("e.gcode"), black("e.png"), white("f.png");
  Printed const printed = print_rings(gcode.path, machine(2, 0.6), {});
  options.dpi = 300;
  options.file = black.path;
  options.piece_turn_deg = 20;
  ref::take_picture(printed.bead, options);
  options.file = white.path;
  options.background = {245, 245, 243};
  options.piece_turn_deg = 171;
  options.piece_x_mm = 1;
  ref::take_picture(printed.bead, options);
  result = scan_two_pictures(gcode.path, {white.path, black.path}, {});
  return agreement_of(printed, result);
}

TEST_CASE("clear plastic is read from two pages, though on the white one only shadows are seen") {
  ref::PictureOptions options;
  options.clear = 0.8;
  options.granules = {{200, 205, 200}};
  ScanResult result;
  Agreement const got = from_two_pages(options, result);
  tell("clear", got);
  CHECK(result.faint_picture.ends_with("f.png"));
  CHECK(std::abs(got.bias_mm) <= 0.02);
  CHECK(got.scatter_mm <= 0.03);
  CHECK(read_share(got) >= 0.95);
}

TEST_CASE("black and white granules, of which each page hides half, are read from two pages") {
  ref::PictureOptions options;
  options.granules = {{20, 20, 20}, {245, 245, 243}};
  ScanResult result;
  Agreement const got = from_two_pages(options, result);
  tell("black and white", got);
  CHECK(result.faint_picture.empty());
  CHECK(std::abs(got.bias_mm) <= 0.03);
  CHECK(got.scatter_mm <= 0.09);  // grey streaks come out narrow
  CHECK(read_share(got) >= 0.95);
}
