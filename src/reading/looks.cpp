// SPDX-License-Identifier: MIT
#include "looks.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::reading {
namespace {

// Collects places; their indices are known when all are.
class LookMaker {
 public:
  LookMaker(PrintedPath const& path, PredictorOptions const& options)
      : path_(path), options_(options) {}

  void add(Reading const& reading) {
    Look look{.kind = reading.kind,
              .ruler_mm = reading.ruler_mm,
              .locked_mm = reading.locked_mm,
              .layers = {},
              .weighed = {}};
    if (reading.kind == Kind::mass) {
      look.usable = options_.density_g_cm3 > 0 && !path_.moves.empty();
      if (look.usable) weigh(reading, look);
    } else if (reading.kind == Kind::height) {
      look.fence_layers = fence_layers(reading);
      look.usable = look.fence_layers > 0;
    } else {
      for (std::size_t const layer : layers_used(reading.lines.size()))
        look.layers.push_back(layer_look(reading, layer, look));
      look.usable = !look.layers.empty();
    }
    list_.looks.push_back(std::move(look));
  }

  LookList finish() {
    std::vector<double> sorted = places_;
    std::sort(sorted.begin(), sorted.end());
    sorted.erase(std::unique(sorted.begin(), sorted.end()), sorted.end());
    auto const settle = [&](Stretch& stretch) {
      auto const index = [&](std::size_t raw) {
        return static_cast<std::size_t>(
            std::lower_bound(sorted.begin(), sorted.end(), places_[raw]) - sorted.begin());
      };
      stretch.from = index(stretch.from);
      stretch.to = index(stretch.to);
    };
    for (Look& look : list_.looks) {
      for (LayerLook& layer : look.layers) {
        for (Stretch* s : {&layer.before, &layer.here, &layer.behind, &layer.steady})
          if (s->length_mm > 0) settle(*s);
        for (Stretch& s : layer.scan) settle(s);
      }
      for (Stretch& s : look.weighed) settle(s);
    }
    list_.places_mm = std::move(sorted);
    return std::move(list_);
  }

 private:
  [[nodiscard]] double fence_layers(Reading const& reading) const {
    if (!reading.lines.empty()) return static_cast<double>(reading.lines.size());
    int most = 0;
    for (TraceMark const& mark : path_.marks)
      if (mark.trace == reading.trace) most = std::max(most, mark.layer);
    return most;
  }

  // Which of `count` layers are looked at.
  [[nodiscard]] std::vector<std::size_t> layers_used(std::size_t count) const {
    auto const most = static_cast<std::size_t>(options_.most_layers);
    std::vector<std::size_t> used;
    for (std::size_t i = 0; i < (most > 0 ? std::min(most, count) : count); ++i) used.push_back(i);
    return used;
  }

  Stretch stretch(double from_mm, double to_mm) {
    Stretch s{.from = places_.size(), .to = places_.size() + 1, .length_mm = to_mm - from_mm};
    places_.push_back(from_mm);
    places_.push_back(to_mm);
    return s;
  }
  // A jaw's length around `at_mm`, as far as the straight goes.
  Stretch jaw(PathMove const& move, double at_mm, double length_mm) {
    double const from = std::max(at_mm - length_mm / 2, move.straight_from_mm);
    double const to = std::min(at_mm + length_mm / 2, move.straight_to_mm);
    if (to - from > length_mm / 4) return stretch(from, to);
    double const way = std::clamp(at_mm, move.straight_from_mm, move.straight_to_mm);
    return stretch(way - length_mm / 8, way + length_mm / 8);
  }

  LayerLook layer_look(Reading const& reading, std::size_t layer, Look& look) {
    PathMove const& move = path_.moves[path_.move_of_line.at(reading.lines[layer])];
    double const at = move.way_mm + reading.at_mm[layer];
    double const length = move.length_mm();
    look.ruler_sign = length > 0 && gcode::direction_at(move.timed.move, 0).x < 0 ? -1 : 1;
    LayerLook out;
    if (length > 0) out.wanted_mm2 = std::max(0.0, move.timed.move.volume_mm3 / length);
    MeasuringErrors const& errors = options_.errors;
    if (reading.kind == Kind::width) {
      double const jaw_mm = reading.length_mm > 0 ? reading.length_mm : errors.jaw_mm;
      out.before = jaw(move, at - errors.place_mm, jaw_mm);
      out.here = jaw(move, at, jaw_mm);
      out.behind = jaw(move, at + errors.place_mm, jaw_mm);
      return out;
    }
    double const width = reading.kind == Kind::place_at_width ? errors.jaw_mm : scan_step_mm;
    double const reach = std::min(scan_reach_mm, move.straight_to_mm - at - width / 2);
    for (double way = 0; way <= reach; way += scan_step_mm)
      out.scan.push_back(jaw(move, at + way, width));
    if (reading.kind == Kind::tail)
      out.steady = jaw(move, at - errors.jaw_mm / 2 - scan_step_mm, errors.jaw_mm);
    return out;
  }

  void weigh(Reading const& reading, Look& look) {
    if (!reading.lines.empty()) {
      for (std::int64_t const line : reading.lines) {
        PathMove const& move = path_.moves[path_.move_of_line.at(line)];
        look.weighed.push_back(stretch(move.way_mm, move.way_mm + move.length_mm()));
      }
      return;
    }
    std::int64_t const first = path_.marks.empty() ? 0 : path_.marks.front().line;
    auto const move = path_.move_of_line.lower_bound(first);
    double const from = move == path_.move_of_line.end() ? 0 : path_.moves[move->second].way_mm;
    look.weighed.push_back(stretch(from, path_.way_mm()));
  }

  PrintedPath const& path_;
  PredictorOptions const& options_;
  LookList list_;
  std::vector<double> places_;
};

}  // namespace

LookList make_looks(PrintedPath const& path,
                    std::span<Reading const> readings,
                    PredictorOptions const& options) {
  LookMaker maker(path, options);
  for (Reading const& reading : readings) maker.add(reading);
  return maker.finish();
}

}  // namespace meltlag::reading
