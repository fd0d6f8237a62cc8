// SPDX-License-Identifier: MIT
// Pieces of any shape: how they lie is found out, what cannot be told is refused.
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include "meltlag/base/error.hpp"
#include "pictures.hpp"

using namespace meltlag;
using namespace meltlag::scan;
namespace ref = meltlag_reference;

namespace {

constexpr ScanOptions any_piece{.piece = Piece::any};

// One bead through these corners, 0.12 mm of E on each mm.
std::string bead_through(std::vector<std::pair<double, double>> const& corners) {
  std::string out = fmt::format(
      "G21\nG90\nM83\nG1 X{} Y{} Z0.3 F1200\n", corners.front().first, corners.front().second);
  for (std::size_t i = 1; i < corners.size(); ++i) {
    auto const& [x, y] = corners[i];
    double const length = std::hypot(x - corners[i - 1].first, y - corners[i - 1].second);
    out += fmt::format("G1 X{} Y{} E{:.5f}\n", x, y, 0.12 * length);
  }
  return out;
}

Printed print_piece(std::string const& gcode_path, std::string const& gcode) {
  std::ofstream(gcode_path, std::ios::binary) << gcode;
  Printed out{.gcode_path = gcode_path, .motion = ref::plan_motion(gcode, {}, 1.75), .bead = {}};
  out.bead = ref::lay_bead(out.motion, ref::simulate_print(out.motion, machine(1, 0.8)), {});
  return out;
}

std::string refusal(std::string const& gcode, std::string const& picture) {
  try {
    (void)scan_picture(gcode, picture, any_piece);
  } catch (Error const& error) {
    CHECK_FALSE(error.hint().empty());
    return error.what();
  }
  return "nothing";
}

// A hook with arms of three lengths.
std::vector<std::pair<double, double>> const hook = {
    {60, 60}, {140, 60}, {140, 110}, {80, 110}, {80, 80}, {120, 80}, {110, 95}};
std::vector<std::pair<double, double>> const square = {
    {60, 60}, {140, 60}, {140, 140}, {60, 140}, {60, 60.5}};
std::vector<std::pair<double, double>> const tight = {
    {60, 60}, {140, 60}, {140, 61.5}, {60, 61.5}, {60, 63}, {140, 63}, {140, 64.5}, {60, 64.5}};

}  // namespace

TEST_SUITE("scan") {
  TEST_CASE("a piece of any shape is found face down and turned, and its widths are read") {
    ScratchFile const gcode("j.gcode"), picture("j.png");
    Printed const printed = print_piece(gcode.path, bead_through(hook));
    ref::PictureOptions options{.file = picture.path, .dpi = 300};
    options.mirrored = true;
    options.piece_turn_deg = 215;
    options.piece_x_mm = -11;
    options.piece_y_mm = 7;
    ref::take_picture(printed.bead, options);
    ScanResult const result = scan_picture(gcode.path, picture.path, any_piece);
    CHECK(result.face_down);
    CHECK(std::abs(result.piece_scale - 1) < 0.002);
    Agreement const got = agreement_of(printed, result);
    MESSAGE("bias " << got.bias_mm << ", scatter " << got.scatter_mm << ", read " << got.read
                    << " of " << got.asked);
    CHECK(got.scatter_mm <= 0.03);
    CHECK(std::abs(got.bias_mm) <= 0.02);
    CHECK(got.asked > 1500);
    CHECK(static_cast<double>(got.read) >= 0.95 * static_cast<double>(got.asked));
    auto const means = mean_widths(result, 2);
    REQUIRE(means.size() > 100);
    for (MeanWidth const& mean : means) CHECK(mean.width_mm > 0.45);
  }

  TEST_CASE("a piece that looks the same when turned, and beads that touch, are refused") {
    ScratchFile const gcode("k.gcode"), picture("k.png");
    ref::PictureOptions const options{.file = picture.path, .dpi = 200};
    ref::take_picture(print_piece(gcode.path, bead_through(square)).bead, options);
    std::string const two_ways = refusal(gcode.path, picture.path);
    CHECK_MESSAGE(two_ways.find("may lie in two ways") != std::string::npos, two_ways);
    (void)print_piece(gcode.path, bead_through(hook));
    std::string const another = refusal(gcode.path, picture.path);
    CHECK_MESSAGE(another.find("another piece") != std::string::npos, another);
    (void)print_piece(gcode.path, bead_through(tight));
    std::string const close = refusal(gcode.path, picture.path);
    CHECK_MESSAGE(close.find("hardly any bead") != std::string::npos, close);
  }
}
