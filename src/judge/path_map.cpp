// SPDX-License-Identifier: MIT
#include "path_map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace meltlag::judge {
namespace {

constexpr double same_e_mm = 1e-6;
constexpr double rounded_e_mm = 2e-5;     // the last digit of E, carried forward
constexpr double rounded_share = 2e-3;    // of a bead's E, which is written as finely as it asks
constexpr double finest_digit_mm = 2e-9;  // no finer
constexpr double same_feed_mm_s = 1e-9;
// So many E-only moves in a row are looked through for one that is kept.
constexpr std::size_t farthest_scan = 1024;

using gcode::Move;
using gcode::MoveKind;

// Within `most_mm`, less where the move makes a small bead.
bool same_e(Move const& original, double wanted_e_mm, Move const& emitted, double most_mm) {
  double const off = std::abs(emitted.e_mm - wanted_e_mm);
  if (original.kind != MoveKind::print) return off <= most_mm;
  return off <= std::min(most_mm, rounded_share * std::abs(wanted_e_mm) + finest_digit_mm);
}

Vec3 machine_at(Move const& move, double s_mm) {
  return gcode::point_at(move, s_mm) + move.origin_mm;
}
Vec3 machine_end(Move const& move) { return move.end_mm + move.origin_mm; }

bool is_arc(Move const& move) { return move.arc.radius_mm > 0; }

// Does `emitted` end the original, of which the share `done` has been passed?
bool ends(Move const& original, Move const& emitted, double done) {
  if (norm(machine_end(emitted) - machine_end(original)) > path_tolerance_mm) return false;
  // A full turn comes by its end at its start.
  bool const long_turn = is_arc(original) && std::abs(original.arc.sweep_rad) > std::numbers::pi;
  return !long_turn || done * original.length_mm + emitted.length_mm >= original.length_mm / 2;
}

// Share of the original's length at which `emitted` ends.
double share_at_end(Move const& original, Move const& emitted, double done) {
  if (is_arc(original)) return std::min(1.0, done + emitted.length_mm / original.length_mm);
  Vec3 const way = original.end_mm - original.start_mm;
  Vec3 const gone = machine_end(emitted) - machine_at(original, 0);
  return std::clamp(dot(gone, way) / dot(way, way), done, 1.0);
}

// How far the emitted move is from its piece of the original.
double distance_off(Move const& original, Move const& emitted, PathPiece const& piece) {
  double const length = original.length_mm;
  double off = norm(machine_end(emitted) - machine_at(original, piece.to * length));
  if (is_arc(original) || is_arc(emitted)) {
    double const middle = (piece.from + piece.to) / 2 * length;
    off = std::max(off,
                   norm(machine_at(emitted, emitted.length_mm / 2) - machine_at(original, middle)));
  }
  return off;
}

}  // namespace

bool PathMap::has(std::size_t i) {
  while (queue_.size() <= i) {
    if (!source_.read_more()) return queue_.size() > i;
  }
  return true;
}

void PathMap::drop_front() {
  Original const& front = queue_.front();
  last_index_ = front.piece.index;
  if (front.piece.purge && !front.found) {
    if (purges_lost_++ == 0) first_purge_lost_ = front.move.line;
  }
  queue_.pop();
  scan_ = 0;
}

// The next move of the head, everything before it dropped; null at the end.
PathMap::Original* PathMap::front_head() {
  while (has(0)) {
    if (queue_.front().move.kind != MoveKind::e_only) return &queue_.front();
    drop_front();
  }
  return nullptr;
}

std::optional<PathPiece> PathMap::place(Move const& emitted) {
  if (parting_) return std::nullopt;
  if (emitted.kind == MoveKind::e_only) return place_screw(emitted);
  return place_head(emitted);
}

std::optional<PathPiece> PathMap::place_head(Move const& emitted) {
  Original* const original = front_head();
  if (original == nullptr) {
    part(nullptr, &emitted, 0);
    return std::nullopt;
  }
  PathPiece piece = original->piece;
  bool const last = ends(original->move, emitted, done_);
  piece.from = done_;
  piece.to = last ? 1 : share_at_end(original->move, emitted, done_);
  double const off = distance_off(original->move, emitted, piece);
  if (!(off <= path_tolerance_mm)) {
    part(original, &emitted, off);
    return std::nullopt;
  }
  piece.kept = last && piece.from == 0 &&
               same_e(original->move, original->move.e_mm, emitted, same_e_mm) &&
               std::abs(emitted.feed_mm_s - original->move.feed_mm_s) < same_feed_mm_s;
  piece.flow_right = last && piece.from == 0 && flow_right(original->move, emitted);
  done_ = last ? 0 : piece.to;
  if (last) {
    ++heads_done_;
    drop_front();
  }
  return piece;
}

PathPiece PathMap::place_screw(Move const& emitted) {
  PathPiece added;
  added.added = true;
  added.kept = false;
  added.index = last_index_;
  if (done_ > 0) {
    added.index = queue_.front().piece.index;
    return added;
  }
  // What was passed cannot be found any more; a file of E-only moves alone must not fill the queue.
  for (std::size_t passed = scan_; passed > 0; --passed) drop_front();
  added.index = last_index_;
  std::size_t changed = farthest_scan;  // the first that this may be with another E
  for (std::size_t i = 0; i < farthest_scan && has(i); ++i) {
    Original& original = queue_[i];
    added.index = original.piece.index;
    if (original.move.kind != MoveKind::e_only) break;
    if (original.found) continue;
    if (std::abs(original.move.e_mm - emitted.e_mm) <= same_e_mm) return found(i, emitted);
    if (changed == farthest_scan && !original.piece.purge) changed = i;
  }
  if (changed < farthest_scan) return found(changed, emitted);
  return added;
}

// The original's E-only move `i` in the queue is what was emitted.
PathPiece PathMap::found(std::size_t i, Move const& emitted) {
  Original& original = queue_[i];
  original.found = true;
  scan_ = i + 1;
  PathPiece piece = original.piece;
  piece.kept = std::abs(original.move.e_mm - emitted.e_mm) <= same_e_mm &&
               std::abs(original.move.feed_mm_s - emitted.feed_mm_s) < same_feed_mm_s;
  piece.flow_right = flow_right(original.move, emitted);
  return piece;
}

bool PathMap::flow_right(Move const& original, Move const& emitted) const {
  return same_e(original, original.e_mm / delivered_factor_, emitted, rounded_e_mm) &&
         std::abs(original.feed_mm_s - emitted.feed_mm_s) < same_feed_mm_s;
}

void PathMap::part(Original const* original, Move const* emitted, double off_mm) {
  Parting parting;
  parting.off_mm = off_mm;
  if (original != nullptr) {
    parted_at_ = original->piece.index;
    parting.original_line = original->move.line;
    parting.original_end_mm = machine_end(original->move);
  }
  if (emitted != nullptr) {
    parting.emitted_line = emitted->line;
    parting.emitted_end_mm = machine_end(*emitted);
  }
  if (original == nullptr) {
    parting.text = fmt::format("line {}: the head moves on after the end of the original's path",
                               parting.emitted_line);
  } else if (emitted == nullptr) {
    parting.text = fmt::format("the original's path goes on: its line {} is not reached",
                               parting.original_line);
  } else {
    parting.text =
        fmt::format("line {}: the head is {:.3f} mm off the path of the original's line {}",
                    parting.emitted_line,
                    off_mm,
                    parting.original_line);
  }
  parting_ = std::move(parting);
}

void PathMap::finish() {
  if (parting_) return;
  if (Original const* const left = front_head()) part(left, nullptr, 0);
}

}  // namespace meltlag::judge
