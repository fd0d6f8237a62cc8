// SPDX-License-Identifier: MIT
// Where a move lies on the original's path.
#pragma once

#include <cstdint>
#include <vector>

#include "meltlag/gcode/purge.hpp"

namespace meltlag::judge {

// Of one move: time must depend on the file's length, not on how far a line says to go. Above 2 m
// the cells of a move grow longer than half a millimetre.
inline constexpr double most_cells = 4096;

// Positions closer than this are the same place of the path.
inline constexpr double path_tolerance_mm = 0.005;

// A move of the original, or the piece of one that an emitted move is.
struct PathPiece {
  std::int64_t index = 0;              // of the original's move, all kinds, 0-based
  std::int64_t line = 0;               // of the original
  double cells = 0;                    // of that move; 0 for E alone
  double cell_mm = 0, wanted_mm3 = 0;  // of each cell
  double e_mm = 0;                     // of the original's whole move
  double from = 0, to = 1;             // share of that move's length
  bool prints = false;
  bool starts_run = false;  // a halt, a move of E alone or one that does not print is before it
  bool purge = false;
  // Of e_mm what stays as written where the flow is set right: purge, an unload (far more drawn
  // back than ever runs on), and what gives an unload again.
  double kept_e_mm = 0;
  bool kept = true;         // does what the original does
  bool flow_right = false;  // does what the original does with its flow set right
  bool added = false;       // a move of E alone that the original does not have
};

// The move with the flow set right: its E divided by the delivered factor, but for `kept_e_mm`.
[[nodiscard]] gcode::Move with_flow_set_right(gcode::Move move,
                                              double kept_e_mm,
                                              double delivered_factor);

// Tells what of a move's E stays as written where the flow is set right.
class KeptE {
 public:
  // An E-only move back of more than `unload_mm3` is an unload.
  explicit KeptE(double unload_mm3) : unload_mm3_(unload_mm3) {}
  // Of the next move.
  [[nodiscard]] double take(gcode::Move const& move, bool purge);
  // The last retract that is not given again yet stays too.
  void keep_last_retract();

 private:
  // E drawn back and not yet given again, the latest last.
  struct Owed {
    double mm;
    bool stays, e_only;
  };
  double unload_mm3_;
  std::vector<Owed> owed_;
};

// Numbers the moves of an original and finds out which purge.
class PathPieceMaker {
 public:
  // An E-only move back of more than `unload_mm3` is an unload.
  explicit PathPieceMaker(double unload_mm3) : kept_e_(unload_mm3) {}
  [[nodiscard]] PathPiece next(gcode::Move const& move);
  void halt() { broken_ = true; }

 private:
  std::int64_t index_ = 0;
  gcode::PurgeCounter purges_;
  KeptE kept_e_;
  bool broken_ = true;
};

}  // namespace meltlag::judge
