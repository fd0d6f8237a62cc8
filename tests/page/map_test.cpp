// SPDX-License-Identifier: MIT
#include "meltlag/page/map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

#include "support/near.hpp"
#include "testpiece/piece_options.hpp"

namespace meltlag::page {
using namespace testpiece;
namespace {

std::size_t count(std::string const& text, std::string const& word) {
  std::size_t found = 0;
  for (auto at = text.find(word); at != std::string::npos; at = text.find(word, at + 1)) ++found;
  return found;
}

// Every element is closed, by itself or in the order opened.
bool well_formed(std::string const& svg) {
  std::vector<std::string> open;
  for (auto at = svg.find('<'); at != std::string::npos; at = svg.find('<', at + 1)) {
    auto const end = svg.find('>', at);
    if (end == std::string::npos) return false;
    std::string const tag = svg.substr(at + 1, end - at - 1);
    if (tag.front() == '?' || tag.back() == '/') continue;
    if (tag.front() == '/') {
      if (open.empty() || open.back() != tag.substr(1)) return false;
      open.pop_back();
    } else {
      open.push_back(tag.substr(0, tag.find(' ')));
    }
  }
  return open.empty();
}

// Where the number of a row's arrow stands; the only bold text of its size.
double number_x_mm(std::string const& svg, int number) {
  std::string const tail =
      fmt::format("font-size=\"2.40\" text-anchor=\"middle\" font-weight=\"bold\">{}<", number);
  auto const end = svg.find(tail);
  REQUIRE(end != std::string::npos);
  return std::stod(svg.substr(svg.rfind("x=\"", end) + 3));
}

std::vector<MapMark> const marks = {{1, 4, 20}, {2, 4, 21}, {3, 15, 0}, {4, 9, 70.5}};

TEST_SUITE("page") {
  TEST_CASE("the map is an A4 page in mm with a line of 100 mm to check the printer's scale") {
    std::string const svg = make_map(make_test_piece(bench_options()), marks);
    CHECK(svg.find("width=\"210mm\" height=\"297mm\" viewBox=\"0 0 210 297\"") !=
          std::string::npos);
    CHECK(svg.find("points=\"14.00,28.00 114.00,28.00\"") != std::string::npos);
    CHECK(svg.find("must measure 100 mm") != std::string::npos);
    CHECK(well_formed(svg));
  }

  TEST_CASE("the map names every wall, the front, the cautions and every row") {
    PieceOptions options = bench_options();
    options.e_mm_per_turn = 20;
    TestPiece const piece = make_test_piece(options);
    std::string const svg = make_map(piece, marks);
    for (Wall const& wall : piece.walls) {
      std::string const words =
          fmt::format(">{}: {}, copy {}<", wall.trace, name_of(wall.group), wall.copy);
      CAPTURE(words);
      CHECK(count(svg, words) == 1);
    }
    for (MapMark const& mark : marks) {
      CHECK(count(svg, fmt::format(">trace {} at {:.1f} mm<", mark.trace, mark.ruler_mm)) == 1);
    }
    CHECK(count(svg, "FRONT") == 1);
    CHECK(count(svg, "Never leave the machine unattended") == 1);
    CHECK(count(svg, "16: frame, back") == 1);
    CHECK(count(svg, "17: frame, front") == 1);
  }

  TEST_CASE("an arrow of the map points at its place on the ruler at 1:1") {
    TestPiece const piece = make_test_piece(bench_options());
    // Two rows 30 mm apart on the wall of trace 4: so are the tips of their arrows.
    std::string const svg = make_map(piece, {{1, 4, 20}, {2, 4, 50}});
    double const left_mm = 14 + piece.ruler_zero_x_mm - piece.low_mm.x;
    double const edge_mm = 56 + piece.high_mm.y - piece.walls[3].y_mm - piece.bead_width_mm / 2;
    for (double const place_mm : {20.0, 50.0}) {
      std::string const tip =
          fmt::format("<polygon points=\"{:.2f},{:.2f} ", left_mm + place_mm, edge_mm + 0.1);
      CAPTURE(tip);
      CHECK(count(svg, tip) == 1);
    }
  }

  TEST_CASE("a row's number stands over the place it points to when there is room") {
    TestPiece const piece = make_test_piece(bench_options());
    double const zero_mm = 14 + piece.ruler_zero_x_mm - piece.low_mm.x;
    std::string const svg = make_map(piece, {{1, 4, 30}, {2, 4, 10}, {3, 5, 30}});
    CHECK_NEAR(number_x_mm(svg, 1), zero_mm + 30, 0.006);
    CHECK_NEAR(number_x_mm(svg, 2), zero_mm + 10, 0.006);
    CHECK_NEAR(number_x_mm(svg, 3), zero_mm + 30, 0.006);
  }

  TEST_CASE("numbers that want one place stand side by side around it") {
    TestPiece const piece = make_test_piece(bench_options());
    double const zero_mm = 14 + piece.ruler_zero_x_mm - piece.low_mm.x;
    std::string const svg = make_map(piece, {{1, 4, 40}, {2, 4, 40}, {3, 4, 40.3}});
    double const first = number_x_mm(svg, 1), second = number_x_mm(svg, 2);
    CHECK_NEAR((first + second + number_x_mm(svg, 3)) / 3, zero_mm + 40.1, 0.01);
    CHECK(second - first > 2);
    CHECK(number_x_mm(svg, 3) - second > 2);
  }

  TEST_CASE("numbers of crowded rows never cover each other and stay beside the piece") {
    TestPiece const piece = make_test_piece(bench_options());
    for (int first = 0; first < 70; first += 7) {
      CAPTURE(first);
      std::vector<MapMark> crowd;
      for (int i = 0; i < 20; ++i) {
        crowd.push_back({i + 11, 8, static_cast<double>((first + i * i) % 80)});
      }
      std::string const svg = make_map(piece, crowd);
      std::vector<double> places;
      for (MapMark const& mark : crowd) places.push_back(number_x_mm(svg, mark.number));
      std::sort(places.begin(), places.end());
      CHECK(places.front() >= 14);
      CHECK(places.back() <= 114);
      for (std::size_t i = 1; i < places.size(); ++i) {
        CHECK(places[i] - places[i - 1] >= 2.8);  // two bold digits of 2.4 mm letters
      }
    }
  }

  TEST_CASE("a map of many rows stays well formed and says that they are not listed") {
    std::vector<MapMark> many;
    for (int i = 0; i < 300; ++i) many.push_back({i + 1, 1 + i % 15, static_cast<double>(i % 80)});
    std::string const svg = make_map(make_test_piece(bench_options()), many);
    CHECK(well_formed(svg));
    CHECK(count(svg, "Too many to list here") == 1);
  }
}

}  // namespace
}  // namespace meltlag::page
