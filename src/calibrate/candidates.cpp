// SPDX-License-Identifier: MIT
#include "candidates.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace meltlag::calibrate {
namespace {

constexpr double free_end_mm = 4;  // of a wall: its corners are no place for calipers
constexpr double locked_share = 0.6;

// The lowest two layers are squeezed onto the bed; thin fences have none to spare.
std::vector<std::int64_t> measured_lines(Section const& section) {
  std::size_t const skip = section.lines.size() > 5 ? 2 : section.lines.size() > 2 ? 1 : 0;
  return {section.lines.begin() + static_cast<std::ptrdiff_t>(skip), section.lines.end()};
}

Reading at(Wall const& wall, Section const& section, double ruler_mm, Kind kind) {
  Reading reading;
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
Ends ends_of(Wall const& wall) {
  Ends ends{1e9, -1e9};
  for (Section const& section : wall.sections) {
    ends.low = std::min({ends.low, section.from_mm, section.to_mm});
    ends.high = std::max({ends.high, section.from_mm, section.to_mm});
  }
  return ends;
}

}  // namespace

std::vector<Reading> width_candidates(TestPiece const& piece) {
  std::vector<Reading> out;
  for (Wall const& wall : piece.walls) {
    Ends const ends = ends_of(wall);
    for (Section const& section : wall.sections) {
      double const low = std::min(section.from_mm, section.to_mm);
      double const high = std::max(section.from_mm, section.to_mm);
      for (double x = std::ceil(low); x < high; x += 1) {
        if (x < ends.low + free_end_mm || x > ends.high - free_end_mm) continue;
        out.push_back(at(wall, section, x, Kind::width));
      }
    }
  }
  return out;
}

std::vector<Reading> other_candidates(TestPiece const& piece, double bead_width_mm, Scale scale) {
  std::vector<Reading> out;
  for (Wall const& wall : piece.walls) {
    Section const& first = wall.sections.front();
    Reading height = at(wall, first, (first.from_mm + first.to_mm) / 2, Kind::height);
    height.lines = first.lines;
    height.at_mm.assign(height.lines.size(), 0);
    height.note = "of the fence at this trace";
    out.push_back(height);
    if (wall.group != Group::run_out) continue;
    for (std::size_t i = 0; i < wall.sections.size(); ++i) {
      Section const& section = wall.sections[i];
      bool const dry = section.e_mm_per_mm == 0;
      if (dry) {
        Reading tail = at(wall, section, section.from_mm, Kind::tail);
        tail.note = "from ruler_mm on, until the bead is half as wide as before";
        out.push_back(tail);
        Reading locked = at(wall, section, section.from_mm, Kind::place_at_width);
        locked.note =
            fmt::format("locked at {:.2f} mm: where do they stop?", locked_share * bead_width_mm);
        locked.locked_mm = locked_share * bead_width_mm;
        out.push_back(locked);
      } else if (i > 0 && wall.sections[i - 1].e_mm_per_mm == 0) {
        Reading gap = at(wall, section, section.from_mm, Kind::gap);
        gap.note = "from ruler_mm on, until the bead is half as wide as meant";
        out.push_back(gap);
      }
    }
  }
  if (scale == Scale::at_hand) {
    Reading mass;
    mass.trace = "fence";
    mass.kind = Kind::mass;
    mass.note = "g of the fence alone, without ruler, numbers and purge";
    out.push_back(mass);
  }
  return out;
}

}  // namespace meltlag::calibrate
