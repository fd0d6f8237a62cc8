// SPDX-License-Identifier: MIT
// Which piece of which original move an emitted move is.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>

#include "meltlag/judge/judge.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "ring.hpp"

namespace meltlag::judge {

// Where more of the original comes from.
class OriginalMoves {
 public:
  virtual ~OriginalMoves() = default;
  // Reads on until at least one more line is read; false at the end of the original.
  virtual bool read_more() = 0;
};

class PathMap {
 public:
  PathMap(OriginalMoves& source, double delivered_factor)
      : source_(source), delivered_factor_(delivered_factor) {}

  // A move of the original, in order.
  void add(gcode::Move const& move, PathPiece const& piece) { queue_.push({move, piece, false}); }

  // Places the next emitted move. Nothing when the paths part (see parting()).
  [[nodiscard]] std::optional<PathPiece> place(gcode::Move const& emitted);
  // No more emitted moves come: the original's path must be at its end too.
  void finish();

  [[nodiscard]] std::optional<Parting> const& parting() const { return parting_; }
  // The original's move at which they part.
  [[nodiscard]] std::int64_t parted_at() const { return parted_at_; }
  // Moves of the head that are done; −1 in the middle of one.
  [[nodiscard]] std::int64_t heads_done() const { return done_ > 0 ? -1 : heads_done_; }
  [[nodiscard]] std::int64_t heads_begun() const { return heads_done_; }
  [[nodiscard]] std::int64_t purges_lost() const { return purges_lost_; }
  [[nodiscard]] std::int64_t first_purge_lost() const { return first_purge_lost_; }

 private:
  struct Original {
    gcode::Move move;
    PathPiece piece;
    bool found = false;  // an E-only move that the emitted file has too
  };
  [[nodiscard]] bool has(std::size_t i);
  [[nodiscard]] Original* front_head();
  std::optional<PathPiece> place_head(gcode::Move const& emitted);
  PathPiece place_screw(gcode::Move const& emitted);
  PathPiece found(std::size_t i, gcode::Move const& emitted);
  void part(Original const* original, gcode::Move const* emitted, double off_mm);
  void drop_front();

  [[nodiscard]] bool flow_right(gcode::Move const& original, gcode::Move const& emitted) const;
  OriginalMoves& source_;
  double delivered_factor_;
  Ring<Original> queue_;  // moves of the original not yet done
  std::size_t scan_ = 0;  // the next one that an E-only move may be
  double done_ = 0;       // share of the front one
  std::int64_t heads_done_ = 0, last_index_ = 0;
  std::int64_t purges_lost_ = 0, first_purge_lost_ = 0;
  std::optional<Parting> parting_;
  std::int64_t parted_at_ = std::numeric_limits<std::int64_t>::max();
};

}  // namespace meltlag::judge
