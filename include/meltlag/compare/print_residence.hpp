// SPDX-License-Identifier: MIT
// How long plastic is hot over a whole print, as plug flow through the melt's volume V: what enters
// when the screw has fed D mm³ leaves when it has fed D + V. Standstills age all that is inside.
// Dwells count; waits of unknown length count as nothing and are reported.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::compare {

struct ResidenceOptions {
  motion::Limits limits;
  double slicer_diameter_mm;
  double delivered_factor;
  double melt_volume_mm3;  // > 0
  bool g91_covers_e = true;
  double longest_residence_s = std::numeric_limits<double>::infinity();
  double hot_above_c = 170;  // with a lower set temperature no time counts
  // A standstill of at least this calls for a purge, s: usually longest_residence_s less the mean
  // residence time.
  double pause_s = std::numeric_limits<double>::infinity();
};

// Upper ends of the classes of the histogram, s; the last is open.
inline constexpr std::array<double, 8> residence_classes_s{
    30, 60, 120, 240, 480, 900, 1800, std::numeric_limits<double>::infinity()};

// A stretch of the file whose plastic was hot for too long when it came out.
struct Cooked {
  std::int64_t first_line = 0, last_line = 0;
  double longest_s = 0;
  double mm3 = 0;
};

// What may leave old, burnt or other plastic in the barrel.
enum class Event : std::uint8_t { heating, pause, wait, tool_change };
struct PurgePoint {
  Event event;
  std::int64_t line;    // of the event; of the move that ends a standstill
  double standstill_s;  // known part of it
  double purged_mm3;    // E alone, beyond what it repays, before the next bead
};

struct PrintResidence {
  double printed_s = 0;  // planned time
  double out_mm3 = 0;    // left the barrel hot
  double mean_s = 0;     // weighted by volume
  double longest_s = 0;
  std::int64_t longest_line = 0;  // where it came out
  std::array<double, residence_classes_s.size()> histogram_mm3{};
  double longest_standstill_s = 0;
  std::int64_t standstill_line = 0;  // of the move that ended it
  double left_s = 0;                 // how long the oldest plastic in the barrel is hot at the end
  std::int64_t unknown_waits = 0;    // of unknown length, counted as 0 s
  double cooked_mm3 = 0;
  std::vector<Cooked> cooked;      // the first of them, in the file's order
  std::int64_t cooked_count = 0;   // stretches in all
  std::vector<PurgePoint> purges;  // the first of them
  std::int64_t purge_count = 0;
};

inline constexpr std::size_t most_places = 50;  // kept of cooked and purges

// Streams the file in bounded memory. Throws Error for what cannot be read.
[[nodiscard]] PrintResidence residence_over_print(std::string const& path,
                                                  ResidenceOptions const& options,
                                                  Notices& notices);

}  // namespace meltlag::compare
