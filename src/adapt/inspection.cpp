// SPDX-License-Identifier: MIT
#include "meltlag/adapt/inspection.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>
#include <map>
#include <string_view>

#include "inspection_codes.hpp"
#include "meltlag/gcode/layers.hpp"
#include "meltlag/gcode/purge.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::adapt {
namespace {

constexpr double layer_step_mm = 1e-3;      // heights are told apart to this
constexpr std::size_t most_heights = 4096;  // of a file that climbs all the time

// Time that a trapezoid spends faster than a speed.
double time_above(motion::Trapezoid const& t, double mm_s) {
  if (t.peak_mm_s <= mm_s) return 0;
  double const up = std::max(0.0, mm_s - t.entry_mm_s) / t.acceleration_mm_s2;
  double const down = std::max(0.0, mm_s - t.exit_mm_s) / t.acceleration_mm_s2;
  return std::max(0.0, t.duration_s() - up - down);
}

// How many layers there are, and how high.
class Layers {
 public:
  void bead(gcode::Move const& move) {
    if (!counter_.take(move)) return;
    double const height = counter_.height_mm();
    if (counter_.count() == 1 && !counter_.climbs()) first_mm_ = counter_.z_mm();
    if (height > 0 && heights_.size() < most_heights)
      ++heights_[std::lround(height / layer_step_mm)];
  }
  void tell(Inspection& out) const {
    out.layers = counter_.count();
    auto const commonest =
        std::ranges::max_element(heights_, {}, [](auto const& height) { return height.second; });
    if (commonest != heights_.end())
      out.layer_mm = static_cast<double>(commonest->first) * layer_step_mm;
    else if (counter_.count() > 0)
      out.layer_mm = counter_.height_mm();
    // A wall that climbs from the bed on has its first layer as high as the others.
    out.first_layer_mm = first_mm_ > 0 ? first_mm_ : out.layer_mm;
  }

 private:
  gcode::LayerCounter counter_;
  double first_mm_ = 0;
  std::map<long, std::int64_t> heights_;
};

class Inspector final : public motion::WalkSink {
 public:
  explicit Inspector(InspectOptions const& options)
      : options_(options), widths_(options.slicer_diameter_mm) {}

  Inspection run(std::string const& path, Notices& notices) {
    motion::Walked const walked =
        motion::walk(path,
                     {options_.slicer_diameter_mm, options_.limits, options_.g91_covers_e},
                     notices,
                     *this);
    out_.lines = walked.lines;
    out_.planned_s = walked.planned_s;
    out_.codes = codes_.list();
    tell_purge_line();
    out_.e_mode_never_stated = walked.e_mode_never_stated;
    layers_.tell(out_);
    out_.widths = widths_.facts();
    out_.upper_widths = widths_.upper_facts();
    if (out_.printing_s > 0) out_.mean_flow_mm3_s = flow_mm3_ / out_.printing_s;
    return out_;
  }

 private:
  void on_line(gcode::Block const& block, gcode::LineRole role) override {
    codes_.count(block);
    note_firmware(block);
    note_purge(block);
    out_.volumetric_said = out_.volumetric_said || says_volumetric(block);
    out_.adapted_already = out_.adapted_already || role == gcode::LineRole::marker;
  }

  // What the slicer itself calls purge.
  void note_purge(gcode::Block const& block) {
    constexpr std::string_view word = "purge";
    auto const same = [](char a, char b) {
      return std::tolower(static_cast<unsigned char>(a)) == b;
    };
    bool const setting = block.comment.find('=') != std::string_view::npos;
    auto const said =
        std::search(block.comment.begin(), block.comment.end(), word.begin(), word.end(), same);
    if (out_.prints == 0 && !setting && said != block.comment.end()) out_.purged_after_heat = true;
  }

  void note_firmware(gcode::Block const& block) {
    if (block.words.empty() || block.words[0].letter != 'M') return;
    double const code = block.words[0].value;
    if (code != 572 && code != 900) return;
    char const letter = code == 572 ? 'S' : 'K';
    auto const off = [&](gcode::Word const& word) {
      return word.letter == letter && word.has_value && word.value == 0;
    };
    if (std::none_of(block.words.begin(), block.words.end(), off)) out_.firmware_side_lag = true;
  }

  void on_read(gcode::Move const& move) override {
    modes(move);
    ++out_.moves;
    out_.arcs += move.arc.radius_mm > 0 ? 1 : 0;
    out_.e_only += move.kind == gcode::MoveKind::e_only ? 1 : 0;
    out_.travels += move.kind == gcode::MoveKind::travel ? 1 : 0;
    if (move.kind == gcode::MoveKind::travel) out_.travel_length_mm += move.length_mm;
    purge_lines_.take(move);
    if (move.kind != gcode::MoveKind::e_only) bounds(move);
    double const purged_mm3 = purges_.purged_mm3(move);
    out_.purged_mm3 += purged_mm3;
    if (purged_mm3 > 0 && out_.prints == 0 && out_.heated) out_.purged_after_heat = true;
    if (move.kind == gcode::MoveKind::print) bead(move);
  }

  void modes(gcode::Move const& move) {
    (move.write.mm_per_unit == 1 ? out_.millimetres : out_.inches) = true;
    (move.write.xyz_relative ? out_.relative_xyz : out_.absolute_xyz) = true;
    if (move.e_mm != 0 && !move.bare_retract) {
      (move.write.e_relative ? out_.relative_e : out_.absolute_e) = true;
    }
    if (!std::isnan(move.nozzle_c)) {
      out_.heated = out_.heated || move.nozzle_c > 0;
      if (!(out_.hottest_c >= move.nozzle_c)) out_.hottest_c = move.nozzle_c;
    }
  }

  void bounds(gcode::Move const& move) {
    // Points on an arc, an eighth of a radian apart: its bulge is told to 0.2 % of the radius.
    int const parts =
        move.arc.radius_mm > 0 ? 1 + static_cast<int>(std::abs(move.arc.sweep_rad) * 8) : 1;
    for (int i = 0; i <= parts; ++i) {
      Vec3 const at = gcode::point_at(move, move.length_mm * i / parts) + move.origin_mm;
      out_.head.take(at);
      if (move.kind != gcode::MoveKind::print) continue;
      out_.beads.take(at);
    }
  }

  void tell_purge_line() {
    gcode::PurgeLine const line = purge_lines_.purge_line();
    if (line.last_line == 0) return;
    out_.purge_line_mm3 = line.volume_mm3;
    out_.purged_after_heat = out_.purged_after_heat || hot_start_;
    gcode::BeadBox const part = purge_lines_.part();
    out_.beads.least_mm = {part.low_x_mm, part.low_y_mm, out_.beads.least_mm.z};
    out_.beads.most_mm = {part.high_x_mm, part.high_y_mm, out_.beads.most_mm.z};
  }

  void bead(gcode::Move const& move) {
    if (out_.prints == 0) hot_start_ = out_.heated;
    ++out_.prints;
    out_.print_length_mm += move.length_mm;
    out_.wanted_mm3 += move.volume_mm3;
    layers_.bead(move);
    widths_.take(move);
  }

  void on_timed_move(motion::TimedMove const& timed) override {
    gcode::Move const& move = timed.move;
    double const duration = timed.speed.duration_s();
    if (move.volume_mm3 > 0) {
      end_standstill(timed);
    }
    if (move.kind != gcode::MoveKind::print) return;
    double const per_mm = options_.delivered_factor * move.volume_mm3 / move.length_mm;
    out_.printing_s += duration;
    flow_mm3_ += options_.delivered_factor * move.volume_mm3;
    double const peak = per_mm * timed.speed.peak_mm_s;
    if (peak > out_.peak_flow_mm3_s) {
      out_.peak_flow_mm3_s = peak;
      out_.peak_line = move.line;
    }
    if (options_.max_flow_mm3_s) {
      out_.above_max_flow_s += time_above(timed.speed, *options_.max_flow_mm3_s / per_mm);
    }
  }

  // The screw feeds again: how long did it not?
  void end_standstill(motion::TimedMove const& timed) {
    double const stood = timed.start_s - fed_until_s_;
    if (fed_ && stood > out_.longest_standstill_s) {
      out_.longest_standstill_s = stood;
      out_.standstill_line = timed.move.line;
    }
    fed_ = true;
    fed_until_s_ = timed.start_s + timed.speed.duration_s();
  }

  InspectOptions const& options_;
  gcode::PurgeCounter purges_;
  gcode::PurgeLineFinder purge_lines_;
  CodeTable codes_;
  Layers layers_;
  BeadWidths widths_;
  Inspection out_;
  double flow_mm3_ = 0, fed_until_s_ = 0;
  bool fed_ = false, hot_start_ = false;  // heated before the first bead
};

}  // namespace

void Bounds3::take(Vec3 at_mm) {
  least_mm = {
      std::min(least_mm.x, at_mm.x), std::min(least_mm.y, at_mm.y), std::min(least_mm.z, at_mm.z)};
  most_mm = {
      std::max(most_mm.x, at_mm.x), std::max(most_mm.y, at_mm.y), std::max(most_mm.z, at_mm.z)};
}

Inspection inspect(std::string const& path, InspectOptions const& options, Notices& notices) {
  return Inspector(options).run(path, notices);
}

}  // namespace meltlag::adapt
