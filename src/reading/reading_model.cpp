// SPDX-License-Identifier: MIT
#include "reading_model.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::reading {
namespace {

// Collects places; their indices are known when all are.
class ReadingModelMaker {
 public:
  ReadingModelMaker(PrintedPath const& path, PredictorOptions const& options)
      : path_(path), options_(options) {}

  void add(Reading const& reading) {
    ReadingModel model{.kind = reading.kind,
                       .ruler_mm = reading.ruler_mm,
                       .locked_mm = reading.locked_mm,
                       .layers = {},
                       .weighed = {}};
    if (reading.kind == ReadingKind::mass) {
      model.usable = options_.density_g_cm3 > 0 && !path_.moves.empty();
      if (model.usable) weigh(reading, model);
    } else if (reading.kind == ReadingKind::height) {
      model.fence_layers = fence_layers(reading);
      model.usable = model.fence_layers > 0;
    } else {
      for (std::size_t const layer : layers_used(reading.lines.size()))
        model.layers.push_back(layer_model(reading, layer, model));
      model.usable = !model.layers.empty();
    }
    list_.models.push_back(std::move(model));
  }

  ReadingModels finish() {
    std::vector<double> sorted = places_;
    std::sort(sorted.begin(), sorted.end());
    sorted.erase(std::unique(sorted.begin(), sorted.end()), sorted.end());
    auto const settle = [&](PlaceRange& stretch) {
      auto const index = [&](std::size_t raw) {
        return static_cast<std::size_t>(
            std::lower_bound(sorted.begin(), sorted.end(), places_[raw]) - sorted.begin());
      };
      stretch.from = index(stretch.from);
      stretch.to = index(stretch.to);
    };
    for (ReadingModel& model : list_.models) {
      for (LayerModel& layer : model.layers) {
        for (PlaceRange* s : {&layer.before, &layer.here, &layer.behind, &layer.steady})
          if (s->length_mm > 0) settle(*s);
        for (PlaceRange& s : layer.scan) settle(s);
      }
      for (PlaceRange& s : model.weighed) settle(s);
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

  PlaceRange stretch(double from_mm, double to_mm) {
    PlaceRange s{.from = places_.size(), .to = places_.size() + 1, .length_mm = to_mm - from_mm};
    places_.push_back(from_mm);
    places_.push_back(to_mm);
    return s;
  }
  PlaceRange jaw(PathMove const& move, double at_mm, double length_mm) {
    WayRange const seen = jaw_range({move.straight_from_mm, move.straight_to_mm}, at_mm, length_mm);
    return stretch(seen.from_mm, seen.to_mm);
  }

  LayerModel layer_model(Reading const& reading, std::size_t layer, ReadingModel& model) {
    PathMove const& move = path_.moves[path_.move_of_line.at(reading.lines[layer])];
    double const at = move.way_mm + reading.at_mm[layer];
    double const length = move.length_mm();
    model.ruler_sign = length > 0 && gcode::direction_at(move.timed.move, 0).x < 0 ? -1 : 1;
    LayerModel out;
    if (length > 0) out.wanted_mm2 = std::max(0.0, move.timed.move.volume_mm3 / length);
    MeasuringErrors const& errors = options_.errors;
    if (reading.kind == ReadingKind::width) {
      double const jaw_mm = reading.length_mm > 0 ? reading.length_mm : errors.jaw_mm;
      out.before = jaw(move, at - errors.place_mm, jaw_mm);
      out.here = jaw(move, at, jaw_mm);
      out.behind = jaw(move, at + errors.place_mm, jaw_mm);
      return out;
    }
    double const width = reading.kind == ReadingKind::place_at_width ? errors.jaw_mm : scan_step_mm;
    double const reach = std::min(scan_reach_mm, move.straight_to_mm - at - width / 2);
    for (double way = 0; way <= reach; way += scan_step_mm)
      out.scan.push_back(jaw(move, at + way, width));
    if (reading.kind == ReadingKind::tail)
      out.steady = jaw(move, at - errors.jaw_mm / 2 - scan_step_mm, errors.jaw_mm);
    return out;
  }

  void weigh(Reading const& reading, ReadingModel& model) {
    if (!reading.lines.empty()) {
      for (std::int64_t const line : reading.lines) {
        PathMove const& move = path_.moves[path_.move_of_line.at(line)];
        model.weighed.push_back(stretch(move.way_mm, move.way_mm + move.length_mm()));
      }
      return;
    }
    std::int64_t const first = path_.marks.empty() ? 0 : path_.marks.front().line;
    auto const move = path_.move_of_line.lower_bound(first);
    double const from = move == path_.move_of_line.end() ? 0 : path_.moves[move->second].way_mm;
    model.weighed.push_back(stretch(from, path_.way_mm()));
  }

  PrintedPath const& path_;
  PredictorOptions const& options_;
  ReadingModels list_;
  std::vector<double> places_;
};

}  // namespace

ReadingModels make_reading_models(PrintedPath const& path,
                                  std::span<Reading const> readings,
                                  PredictorOptions const& options) {
  ReadingModelMaker maker(path, options);
  for (Reading const& reading : readings) maker.add(reading);
  return maker.finish();
}

}  // namespace meltlag::reading
