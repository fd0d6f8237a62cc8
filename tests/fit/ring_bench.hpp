// SPDX-License-Identifier: MIT
// Hidden machines print the ring piece, its widths are read as a picture of it would be, the fit is
// held against the truth. What a picture adds to true widths is drawn here with the errors that
// rendered pictures showed (tests/scan), so that hundreds of machines take minutes.
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <unordered_map>
#include <vector>

#include "fit/synthetic.hpp"
#include "meltlag/scan/widths.hpp"
#include "meltlag/testpiece/ring_piece.hpp"
#include "picture.hpp"

namespace ring_bench {

namespace ref = meltlag_reference;

struct Bench {
  meltlag::testpiece::PieceOptions options;
  meltlag::testpiece::RingPiece piece;
  meltlag::reading::PrintedPath path;
  ref::HeadMotion motion;
};

inline Bench make_bench(double e_mm_per_turn = 0) {
  Bench bench{.options = synthetic::piece_options(20), .piece = {}, .path = {}, .motion = {}};
  bench.options.max_flow_mm3_s = 10;
  if (e_mm_per_turn > 0) bench.options.e_mm_per_turn = e_mm_per_turn;
  bench.piece = meltlag::testpiece::make_ring_piece(bench.options);
  meltlag::Notices notices;
  bench.path = meltlag::reading::read_path(
      meltlag::gcode::LineSource::from_text(bench.piece.gcode, "TEST.gcode"),
      {.slicer_diameter_mm = bench.options.slicer_diameter_mm, .limits = bench.options.limits},
      notices);
  bench.motion =
      ref::plan_motion(bench.piece.gcode, ref::Machine{}, bench.options.slicer_diameter_mm);
  return bench;
}

// What pictures of 300 dpi do to widths: an offset and one that goes with the bead's direction (the
// lamp's shadow), scatter that is alike over half a millimetre, the piece's turn off by 0.05
// degrees.
struct PictureErrors {
  double offset_mm = 0.012, shade_mm = 0.008, scatter_mm = 0.015, turn_deg = 0.05;
  double left_out = 0.03;  // of the path, in stretches of 3 mm
};

inline int ring_of(Bench const& bench, double radius_mm) {
  for (std::size_t i = 0; i < bench.piece.radii_mm.size(); ++i)
    if (std::abs(bench.piece.radii_mm[i] - radius_mm) < 0.3) return static_cast<int>(i) + 1;
  return 0;
}

class PictureOfWidths {
 public:
  PictureOfWidths(Bench const& bench, PictureErrors const& errors, std::uint64_t seed)
      : bench_(bench), errors_(errors), dice_(seed) {
    offset_ = errors.offset_mm * dice_.normal();
    lamp_ = 2 * std::numbers::pi * dice_.uniform();
    shade_ = errors.shade_mm * dice_.normal();
    turn_ = errors.turn_deg * std::numbers::pi / 180 * dice_.normal();
    for (std::size_t i = 0; i < bench.motion.program.moves.size(); ++i) {
      ref::Move const& move = bench.motion.program.moves[i];
      start_[move.line] = bench.motion.way_mm[i];
      if (move.kind == ref::MoveKind::e_only) unclear_.push_back(bench.motion.way_mm[i]);
    }
  }

  // Places 0.1 mm apart, as lay_bead() makes them.
  meltlag::scan::ScanResult take(std::vector<ref::BeadPlace> const& bead) {
    meltlag::scan::ScanResult out;
    double lost_to = 0, noise = 0;
    note_steps(bead);
    for (std::size_t i = 0; i + 1 < bead.size(); ++i) {
      ref::BeadPlace const& place = bead[i];
      double const x = place.x_mm - bench_.piece.centre_mm.x;
      double const y = place.y_mm - bench_.piece.centre_mm.y;
      double const radius = std::hypot(x, y);
      // A wrong turn shows the bead of some way off.
      auto const shift = static_cast<std::ptrdiff_t>(std::lround(turn_ * radius / 0.1));
      auto const seen = static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(
          static_cast<std::ptrdiff_t>(i) + shift, 0, static_cast<std::ptrdiff_t>(bead.size()) - 1));
      constexpr double alike = 0.82;  // of neighbours, 0.1 mm apart: over 0.5 mm
      noise = alike * noise + std::sqrt(1 - alike * alike) * dice_.normal();
      if (dice_.uniform() < errors_.left_out * 0.1 / 3) lost_to = place.way_mm + 3;
      double const direction = std::atan2(-place.nx, place.ny);
      meltlag::scan::Width width{.line = static_cast<std::int64_t>(place.line),
                                 .at_mm = place.way_mm - start_.at(place.line),
                                 .way_mm = place.way_mm - bead.front().way_mm,
                                 .ring = ring_of(bench_, radius),
                                 .turn_deg = std::atan2(y, x) * 180 / std::numbers::pi,
                                 .prints = place.prints,
                                 .width_mm = bead[seen].width_mm() + offset_ +
                                             shade_ * std::cos(direction - lamp_) +
                                             errors_.scatter_mm * noise,
                                 .sd_mm = 0.03};
      if (near_unclear(place.way_mm)) width.doubt = meltlag::scan::Doubt::at_step;
      if (width.width_mm < 0.45) width.doubt = meltlag::scan::Doubt::thin;
      if (place.way_mm < lost_to) width.doubt = meltlag::scan::Doubt::unclear;
      out.widths.push_back(width);
    }
    return out;
  }

 private:
  // As the room scan leaves out what is next to a step between rings or to a turn of the screw.
  static constexpr double clear_mm = 2.5;
  void note_steps(std::vector<ref::BeadPlace> const& bead) {
    for (ref::BeadPlace const& place : bead)
      if (ring_of(bench_,
                  std::hypot(place.x_mm - bench_.piece.centre_mm.x,
                             place.y_mm - bench_.piece.centre_mm.y)) == 0)
        unclear_.push_back(place.way_mm);
    std::sort(unclear_.begin(), unclear_.end());
  }
  [[nodiscard]] bool near_unclear(double way_mm) const {
    auto const next = std::lower_bound(unclear_.begin(), unclear_.end(), way_mm - clear_mm);
    return next != unclear_.end() && *next < way_mm + clear_mm;
  }

  Bench const& bench_;
  PictureErrors errors_;
  ref::Dice dice_;
  double offset_ = 0, lamp_ = 0, shade_ = 0, turn_ = 0;
  std::unordered_map<std::size_t, double> start_;
  std::vector<double> unclear_;
};

// A factor that cups measured beforehand: 1 % (calibrate feed).
inline constexpr double factor_sd = 0.01;

inline meltlag::fit::FitResult fit_of(Bench const& bench,
                                      meltlag::scan::ScanResult const& result,
                                      double factor,
                                      double every_mm,
                                      double e_mm_per_turn = 0) {
  meltlag::Sheet const sheet =
      meltlag::Sheet::parse(meltlag::scan::write_scan_sheet(result, every_mm), "the sheet");
  return meltlag::fit::fit(
      bench.path,
      meltlag::reading::read_readings(sheet, bench.path),
      {.feed = {.slicer_diameter_mm = bench.options.slicer_diameter_mm, .delivered_factor = factor},
       .factor_sd = factor_sd * factor,
       .e_mm_per_turn = e_mm_per_turn,
       .predictor = {.layer_height_mm = bench.options.layer_height_mm}});
}

struct Trouble {
  double uneven_mm = 0, wander_share = 0, pulse_share = 0;
};

inline ref::HiddenMachine hidden_machine(synthetic::Truth const& truth,
                                         Trouble const& trouble,
                                         ref::Dice& dice) {
  ref::HiddenMachine hidden;
  hidden.plant.run_on_mm3 = truth.run_on_mm3;
  hidden.plant.flow_index = truth.flow_index;
  hidden.plant.delivered_factor = truth.factor;
  hidden.pulse_share = trouble.pulse_share;
  hidden.mm_per_turn = 5 + 95 * dice.uniform();
  hidden.pulse_phase_rad = 2 * std::numbers::pi * dice.uniform();
  hidden.wander_share = trouble.wander_share;
  hidden.wander_s = 1 + 4 * dice.uniform();
  hidden.wander_seed = dice.bits();
  return hidden;
}

inline std::vector<ref::BeadPlace> lay(Bench const& bench,
                                       ref::HiddenMachine const& hidden,
                                       Trouble const& trouble,
                                       std::uint64_t seed) {
  return ref::lay_bead(bench.motion,
                       ref::simulate_print(bench.motion, hidden),
                       {.height_mm = bench.options.layer_height_mm,
                        .uneven_mm = trouble.uneven_mm,
                        .seed = static_cast<std::uint32_t>(seed)});
}

// The factor 0.9 to 1.1: a bead as wide as the rings are apart could not be read.
inline synthetic::Truth random_truth(ref::Dice& dice) {
  synthetic::Truth truth = synthetic::random_truth(dice);
  truth.factor = 0.9 + (truth.factor - 0.8) / 2;
  return truth;
}

}  // namespace ring_bench
