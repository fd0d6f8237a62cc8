// SPDX-License-Identifier: MIT
#include "meltlag/compare/print_residence.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "barrel_content.hpp"
#include "meltlag/base/vec.hpp"
#include "meltlag/gcode/purge.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::compare {
namespace {

class ResidenceWalk final : public motion::WalkSink {
 public:
  explicit ResidenceWalk(ResidenceOptions const& options)
      : options_(options), content_(options.melt_volume_mm3) {}

  PrintResidence run(std::string const& path, Notices& notices) {
    motion::Walked const walked =
        motion::walk(path,
                     {options_.slicer_diameter_mm, options_.limits, options_.g91_covers_e},
                     notices,
                     *this);
    end_purge_point();
    out_.printed_s = walked.planned_s;
    out_.left_s = content_.oldest_s(hot_s_);
    if (out_.out_mm3 > 0) out_.mean_s = mm3_s_ / out_.out_mm3;
    return out_;
  }

 private:
  [[nodiscard]] bool is_hot(double nozzle_c) const {
    return std::isnan(nozzle_c) || nozzle_c >= options_.hot_above_c;
  }

  void on_timed_move(motion::TimedMove const& timed) override {
    gcode::Move const& move = timed.move;
    if (hot_) hot_s_ += timed.start_s - last_end_s_;
    bool const now_hot = is_hot(move.nozzle_c);
    if (now_hot && !std::isnan(move.nozzle_c) && !heated_) note(Event::heating, move.line);
    if (!std::isnan(move.nozzle_c)) heated_ = now_hot;
    hot_ = now_hot;
    double const duration = timed.speed.duration_s();
    if (move.volume_mm3 > 0) end_standstill(move);
    purge(move);
    feed(move, hot_ ? duration : 0);
    last_end_s_ = timed.start_s + duration;
  }

  void on_halt(gcode::Halt const& halt, double) override {
    bool const waits = halt.kind == gcode::HaltKind::wait;
    out_.unknown_waits += waits ? 1 : 0;
    if (!printed_) return;  // a start is a heating
    if (waits) note(Event::wait, halt.line);
    if (halt.tool_change) note(Event::tool_change, halt.line);
  }

  void feed(gcode::Move const& move, double hot_duration_s) {
    double const mm3 = options_.delivered_factor * move.volume_mm3;
    content_.feed(
        {.mm3 = mm3, .from_s = hot_s_, .duration_s = hot_duration_s},
        [&](double residence_s, double left_mm3) { left(residence_s, left_mm3, move.line); });
    hot_s_ += hot_duration_s;
    if (move.volume_mm3 > 0) fed_until_s_ = hot_s_;
  }

  void left(double residence_s, double mm3, std::int64_t line) {
    out_.out_mm3 += mm3;
    mm3_s_ += mm3 * residence_s;
    auto const* const found = std::ranges::lower_bound(residence_classes_s, residence_s);
    out_.histogram_mm3[static_cast<std::size_t>(found - residence_classes_s.begin())] += mm3;
    if (residence_s > out_.longest_s) {
      out_.longest_s = residence_s;
      out_.longest_line = line;
    }
    bool const cooked = residence_s > options_.longest_residence_s;
    if (cooked) cook(residence_s, mm3, line);
    cooking_ = cooked;
  }

  void cook(double residence_s, double mm3, std::int64_t line) {
    out_.cooked_mm3 += mm3;
    if (!cooking_) {
      ++out_.cooked_count;
      if (out_.cooked.size() < most_places) out_.cooked.push_back({.first_line = line});
    }
    if (out_.cooked_count > static_cast<std::int64_t>(most_places)) return;
    Cooked& place = out_.cooked.back();
    place.last_line = line;
    place.longest_s = std::max(place.longest_s, residence_s);
    place.mm3 += mm3;
  }

  // The screw feeds again: how long was the plastic hot without moving on?
  void end_standstill(gcode::Move const& move) {
    double const stood = hot_s_ - fed_until_s_;
    if (stood > out_.longest_standstill_s && fed_) {
      out_.longest_standstill_s = stood;
      out_.standstill_line = move.line;
    }
    if (fed_ && printed_ && stood >= options_.pause_s) note(Event::pause, move.line, stood);
    fed_ = true;
  }

  void purge(gcode::Move const& move) {
    double const mm3 = options_.delivered_factor * purges_.purged_mm3(move);
    if (open_) open_->purged_mm3 += mm3;
    if (move.kind != gcode::MoveKind::print) return;
    end_purge_point();
    printed_ = true;
  }

  void note(Event event, std::int64_t line, double standstill_s = 0) {
    if (!open_) open_ = PurgePoint{event, line, standstill_s, 0};
  }
  void end_purge_point() {
    if (!open_) return;
    ++out_.purge_count;
    if (out_.purges.size() < most_places) out_.purges.push_back(*open_);
    open_.reset();
  }

  ResidenceOptions const& options_;
  BarrelContent content_;
  gcode::PurgeCounter purges_;
  PrintResidence out_;
  double hot_s_ = 0;  // time that the nozzle was hot
  double last_end_s_ = 0, fed_until_s_ = 0, mm3_s_ = 0;
  bool hot_ = true, heated_ = false, fed_ = false, printed_ = false, cooking_ = false;
  std::optional<PurgePoint> open_;  // what happened since the last bead
};

}  // namespace

PrintResidence residence_over_print(std::string const& path,
                                    ResidenceOptions const& options,
                                    Notices& notices) {
  return ResidenceWalk(options).run(path, notices);
}

}  // namespace meltlag::compare
