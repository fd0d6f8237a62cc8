// SPDX-License-Identifier: MIT
#include "pace_plan.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::adapt {
namespace {

// A stretch, or a whole move that is not paced.
struct PacedPart {
  motion::Trapezoid* speed;
  double cap_mm_s;
  double limit2;  // of the corner at its start, squared
  double gain;    // 2·a·length
  double entry2 = 0;
  std::ptrdiff_t cap = -1;  // its place among the caps
};

std::vector<PacedPart> parts_of(std::span<PlannedMove* const> moves,
                                std::vector<double> const& caps) {
  std::vector<PacedPart> parts;
  std::ptrdiff_t cap = 0;
  for (PlannedMove* planned : moves) {
    if (planned->speed.length_mm <= 0) continue;
    double limit2 = planned->entry_limit_mm_s * planned->entry_limit_mm_s;
    double const twice_a = 2 * planned->speed.acceleration_mm_s2;
    if (planned->paced.empty()) {
      parts.push_back(
          {&planned->speed, planned->top_mm_s, limit2, twice_a * planned->speed.length_mm});
      continue;
    }
    for (PacedStretch& s : planned->paced) {
      parts.push_back({&s.speed,
                       caps[static_cast<std::size_t>(cap)],
                       limit2,
                       twice_a * s.speed.length_mm,
                       0,
                       cap});
      ++cap;
      limit2 = std::numeric_limits<double>::infinity();
    }
  }
  return parts;
}

double square(double x) { return x * x; }

// b² of each part's start, planned backward from `exit2`.
void plan_backward(std::vector<PacedPart>& parts, double exit2, double cap_before) {
  double next2 = exit2;
  for (std::size_t i = parts.size(); i-- > 0;) {
    double const before = i == 0 ? cap_before : parts[i - 1].cap_mm_s;
    double const own2 = square(std::min(before, parts[i].cap_mm_s));
    next2 = parts[i].entry2 = std::min({parts[i].limit2, own2, next2 + parts[i].gain});
  }
}

// Caps under which the head can still come down from its speed at the beginning.
void allow_braking(std::vector<PacedPart>& parts, double entry_mm_s) {
  double speed2 = square(entry_mm_s);
  for (PacedPart& part : parts) {
    if (speed2 <= 0) break;
    part.cap_mm_s = std::max(part.cap_mm_s, std::sqrt(speed2));
    speed2 -= part.gain;
  }
}

void drive(std::vector<PacedPart>& parts, double exit2) {
  for (std::size_t i = 0; i < parts.size(); ++i) {
    bool const last = i + 1 == parts.size();
    PacedPart const& part = parts[i];
    double const out2 = std::min(last ? exit2 : parts[i + 1].entry2, part.entry2 + part.gain);
    motion::Trapezoid& t = *part.speed;
    t.entry_mm_s = std::sqrt(part.entry2);
    t.exit_mm_s = std::sqrt(out2);
    double const middle = std::sqrt((part.gain + part.entry2 + out2) / 2);
    t.peak_mm_s = std::max({std::min(part.cap_mm_s, middle), t.entry_mm_s, t.exit_mm_s});
    if (!last) parts[i + 1].entry2 = out2;
  }
}

// Sets when each stretch begins; returns the time of all moves.
double place_stretches(std::span<PlannedMove* const> moves) {
  double time_s = 0;
  for (PlannedMove* planned : moves) {
    double at_s = 0;
    for (PacedStretch& s : planned->paced) {
      s.begin_s = at_s;
      at_s += s.speed.duration_s();
    }
    time_s += planned->paced.empty() ? planned->speed.duration_s() : at_s;
  }
  return time_s;
}

}  // namespace

std::size_t count_stretches(std::span<PlannedMove* const> moves) {
  std::size_t count = 0;
  for (PlannedMove const* planned : moves) count += planned->paced.size();
  return count;
}

double plan_paced(std::span<PlannedMove* const> moves,
                  std::optional<PaceEntry> const& entry,
                  std::vector<double>& caps_mm_s) {
  std::vector<PacedPart> parts = parts_of(moves, caps_mm_s);
  if (parts.empty()) return 0;
  // Where the head goes afterwards it is no faster than without pace.
  PlannedMove const* last = nullptr;
  for (PlannedMove const* planned : moves) {
    if (planned->speed.length_mm > 0) last = planned;
  }
  double const exit2 = square(last->speed.exit_mm_s);
  if (entry) {
    constexpr double same_mm_s = 1e-6;
    allow_braking(parts, entry->speed_mm_s);
    plan_backward(parts, exit2, entry->cap_mm_s);
    double const free = std::min(std::sqrt(parts.front().entry2), entry->reach_mm_s);
    // Faster than decided before is not possible any more.
    if (free > entry->speed_mm_s + same_mm_s && parts.front().cap >= 0)
      parts.front().cap_mm_s = std::max(entry->speed_mm_s, same_mm_s);
    parts.front().entry2 = square(entry->speed_mm_s);
  } else {
    double const first = moves.front()->speed.entry_mm_s;
    plan_backward(parts, exit2, std::numeric_limits<double>::infinity());
    parts.front().entry2 = std::min(parts.front().entry2, square(first));
  }
  drive(parts, exit2);
  for (PacedPart const& part : parts) {
    if (part.cap >= 0) caps_mm_s[static_cast<std::size_t>(part.cap)] = part.cap_mm_s;
  }
  std::size_t cap = 0;
  for (PlannedMove* planned : moves) {
    for (PacedStretch& s : planned->paced) s.cap_mm_s = caps_mm_s[cap++];
  }
  return place_stretches(moves);
}

std::optional<PaceEntry> pace_entry_behind(std::span<PlannedMove* const> moves, std::size_t kept) {
  for (std::size_t i = kept; i-- > 0;) {
    PlannedMove const& planned = *moves[i];
    if (planned.speed.length_mm <= 0) continue;
    bool const whole = planned.paced.empty();
    motion::Trapezoid const& t = whole ? planned.speed : planned.paced.back().speed;
    return PaceEntry{t.exit_mm_s,
                     whole ? planned.top_mm_s : planned.paced.back().cap_mm_s,
                     std::sqrt(square(t.entry_mm_s) + 2 * t.acceleration_mm_s2 * t.length_mm)};
  }
  return {};
}

}  // namespace meltlag::adapt
