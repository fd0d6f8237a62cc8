// SPDX-License-Identifier: MIT
#include "candidates.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace meltlag::fit {
namespace {

constexpr double free_end_mm = 4;  // of a wall: its corners are no place for calipers
constexpr double locked_share = 0.6;
constexpr double behind_retract_mm = 4;  // clear of the lump where the head stood
constexpr double places_a_turn = 8, least_turn_step_mm = 8;

// The lowest two layers are squeezed onto the bed; thin fences have none to spare.
std::vector<std::int64_t> measured_lines(testpiece::Section const& section) {
  std::size_t const skip = section.lines.size() > 5 ? 2 : section.lines.size() > 2 ? 1 : 0;
  return {section.lines.begin() + static_cast<std::ptrdiff_t>(skip), section.lines.end()};
}

reading::Reading at(testpiece::Wall const& wall,
                    testpiece::Section const& section,
                    double ruler_mm,
                    reading::ReadingKind kind) {
  reading::Reading reading;
  reading.trace = std::to_string(wall.trace);
  reading.kind = kind;
  reading.ruler_mm = ruler_mm;
  reading.lines = measured_lines(section);
  reading.at_mm.assign(reading.lines.size(), std::abs(ruler_mm - section.from_mm));
  reading.note = fmt::format("{}: {}", name_of(wall.group), section.about);
  return reading;
}

struct Ends {
  double low, high;
};
Ends ends_of(testpiece::Wall const& wall) {
  Ends ends{1e9, -1e9};
  for (testpiece::Section const& section : wall.sections) {
    ends.low = std::min({ends.low, section.from_mm, section.to_mm});
    ends.high = std::max({ends.high, section.from_mm, section.to_mm});
  }
  return ends;
}

// What backlash and slipping granules change: the bead after each retract.
void add_after_retracts(testpiece::Wall const& wall, std::vector<reading::Reading>& out) {
  for (std::size_t i = 1; i < wall.sections.size(); ++i) {
    testpiece::Section const& section = wall.sections[i];
    if (section.e_mm_per_mm == 0) continue;
    double const sign = section.to_mm > section.from_mm ? 1 : -1;
    out.push_back(
        at(wall, section, section.from_mm + sign * behind_retract_mm, reading::ReadingKind::width));
    out.back().note += " (for backlash)";
  }
}

void add_run_out(testpiece::Wall const& wall,
                 double bead_width_mm,
                 std::vector<reading::Reading>& out) {
  for (std::size_t i = 1; i < wall.sections.size(); ++i) {
    testpiece::Section const& section = wall.sections[i];
    if (section.e_mm_per_mm == 0) {
      out.push_back(at(wall, section, section.from_mm, reading::ReadingKind::tail));
      out.back().note = "from ruler_mm on until the bead is half as wide as before";
      out.push_back(at(wall, section, section.from_mm, reading::ReadingKind::place_at_width));
      out.back().locked_mm = locked_share * bead_width_mm;
      out.back().note =
          fmt::format("locked at {:.2f} mm: where do they stop?", out.back().locked_mm);
    } else if (wall.sections[i - 1].e_mm_per_mm == 0) {
      out.push_back(at(wall, section, section.from_mm, reading::ReadingKind::gap));
      out.back().note = "from ruler_mm on until the bead is half as wide as meant";
    }
  }
}

// Eight places in a turn, as far as the frame's two long sides show it.
void add_turn(testpiece::TurnBead const& bead, std::vector<reading::Reading>& out) {
  double way = 0;
  for (std::size_t i = 1; i <= bead.corners.size(); ++i)
    way += norm(bead.corners[i % bead.corners.size()] - bead.corners[i - 1]);
  double const step = std::max(least_turn_step_mm, way / bead.turns_per_layer / places_a_turn);
  for (std::size_t side = 0; side < bead.sections.size() && side < 2; ++side) {
    testpiece::Section const& section = bead.sections[side];
    double const low = std::min(section.from_mm, section.to_mm) + free_end_mm;
    double const high = std::max(section.from_mm, section.to_mm) - free_end_mm;
    for (double x = std::ceil(low); x <= high; x += step) {
      reading::Reading reading;
      reading.trace = std::to_string(bead.trace + static_cast<int>(side));
      reading.ruler_mm = std::round(x);
      reading.lines = measured_lines(section);
      reading.at_mm.assign(reading.lines.size(), std::abs(reading.ruler_mm - section.from_mm));
      reading.note = "frame (for the screw's turn)";
      out.push_back(std::move(reading));
    }
  }
}

// In step with the turn, so that all layers show the same.
bool in_step(testpiece::TurnBead const& bead) {
  return std::abs(bead.turns_per_layer - std::round(bead.turns_per_layer)) < 0.01;
}

}  // namespace

std::vector<reading::Reading> width_candidates(testpiece::TestPiece const& piece) {
  std::vector<reading::Reading> out;
  for (testpiece::Wall const& wall : piece.walls) {
    Ends const ends = ends_of(wall);
    for (testpiece::Section const& section : wall.sections) {
      double const low = std::min(section.from_mm, section.to_mm);
      double const high = std::max(section.from_mm, section.to_mm);
      for (double x = std::ceil(low); x < high; x += 1) {
        if (x < ends.low + free_end_mm || x > ends.high - free_end_mm) continue;
        out.push_back(at(wall, section, x, reading::ReadingKind::width));
      }
    }
  }
  return out;
}

std::vector<reading::Reading> other_candidates(testpiece::TestPiece const& piece,
                                               double bead_width_mm,
                                               Scale scale) {
  std::vector<reading::Reading> out;
  for (testpiece::Wall const& wall : piece.walls) {
    testpiece::Section const& first = wall.sections.front();
    reading::Reading height =
        at(wall, first, (first.from_mm + first.to_mm) / 2, reading::ReadingKind::height);
    height.lines = first.lines;
    height.at_mm.assign(height.lines.size(), 0);
    height.note = "of the fence at this trace";
    out.push_back(height);
    if (wall.group == testpiece::Group::run_out) add_run_out(wall, bead_width_mm, out);
    if (wall.group == testpiece::Group::short_retracts && wall.copy == 2)
      add_after_retracts(wall, out);
  }
  if (piece.turn_bead && in_step(*piece.turn_bead)) add_turn(*piece.turn_bead, out);
  if (scale == Scale::at_hand) {
    reading::Reading mass;
    mass.trace = "fence";
    mass.kind = reading::ReadingKind::mass;
    mass.note = "g of the fence alone: without what was printed before it";
    out.push_back(mass);
  }
  return out;
}

}  // namespace meltlag::fit
