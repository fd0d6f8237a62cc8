// SPDX-License-Identifier: MIT
#include "meltlag/reading/predictor.hpp"

#include <algorithm>
#include <cmath>

#include "reading_model.hpp"

namespace meltlag::reading {
namespace {

constexpr double thin_factor = 2;      // that much less certain are widths below the height
constexpr double eye_mm = 1;           // how well an eye finds a bead's end, beside the place error
constexpr double flat_per_mm = 0.002;  // a locked caliper needs some slope to stop at

double section(std::vector<double> const& out_mm3, PlaceRange const& s) {
  return s.length_mm > 0 ? (out_mm3[s.to] - out_mm3[s.from]) / s.length_mm : 0;
}

// How far along the scan the bead is first narrower (or wider) than the limit, and the slope there.
struct Crossing {
  double way_mm, slope_per_mm;
};
enum class Past : std::uint8_t { narrower, wider };

Crossing crossing(std::vector<double> const& widths, double limit_mm, Past past) {
  double const sign = past == Past::narrower ? 1 : -1;
  for (std::size_t i = 0; i < widths.size(); ++i) {
    if (sign * (widths[i] - limit_mm) > 0) continue;
    if (i == 0) return {0, widths.size() > 1 ? widths[1] - widths[0] : 0};
    double const step = widths[i] - widths[i - 1];
    double const part = step != 0 ? (limit_mm - widths[i - 1]) / step : 0;
    return {(static_cast<double>(i) - 1 + part) * scan_step_mm, step / scan_step_mm};
  }
  double const reach = std::max<double>(0, static_cast<double>(widths.size()) - 1);
  return {reach * scan_step_mm, 0};
}

class ModelledReading {
 public:
  ModelledReading(std::vector<double> const& out_mm3,
                  ReadingModel const& model,
                  PredictorOptions const& options,
                  double height_mm)
      : out_(out_mm3), model_(model), options_(options), height_(height_mm) {}

  [[nodiscard]] Predicted tell() const {
    switch (model_.kind) {
      case ReadingKind::width:
        return width();
      case ReadingKind::place_at_width:
        return place_at_width();
      case ReadingKind::tail:
        return tail();
      case ReadingKind::gap:
        return gap();
      case ReadingKind::mass:
        return mass();
      case ReadingKind::height:
        return {.value = height_ * model_.fence_layers, .sd = options_.errors.fence_height_mm};
    }
    return {};
  }

 private:
  template <class Which>
  [[nodiscard]] double mean_width(Which const& which) const {
    double sum = 0;
    for (LayerModel const& layer : model_.layers)
      sum += bead_width_mm(section(out_, which(layer)), height_);
    return sum / static_cast<double>(model_.layers.size());
  }
  [[nodiscard]] std::vector<double> scan_widths() const {
    std::size_t steps = model_.layers.front().scan.size();
    for (LayerModel const& layer : model_.layers) steps = std::min(steps, layer.scan.size());
    std::vector<double> widths;
    for (std::size_t i = 0; i < steps; ++i)
      widths.push_back(
          mean_width([i](LayerModel const& l) -> PlaceRange const& { return l.scan[i]; }));
    return widths;
  }

  [[nodiscard]] Predicted width() const {
    MeasuringErrors const& errors = options_.errors;
    double const here = mean_width([](LayerModel const& l) -> PlaceRange const& { return l.here; });
    double const before =
        mean_width([](LayerModel const& l) -> PlaceRange const& { return l.before; });
    double const behind =
        mean_width([](LayerModel const& l) -> PlaceRange const& { return l.behind; });
    SeenWidth const seen = seen_width({before, here, behind});
    bool const thin = here < height_;
    double const tool = errors.width_mm * (thin ? thin_factor : 1);
    return {.value = seen.value_mm,
            .sd = std::hypot(tool, seen.place_sd_mm),
            .slope_per_mm = seen.slope_mm / errors.place_mm,
            .bend_mm = seen.value_mm - here,
            .thin = thin};
  }
  [[nodiscard]] Predicted at_crossing(Crossing const& found, double width_sd_mm) const {
    double const slope = std::max(std::abs(found.slope_per_mm), flat_per_mm);
    double const place = options_.errors.place_mm, width = width_sd_mm / slope;
    return {.value = found.way_mm, .sd = std::sqrt(place * place + width * width)};
  }
  [[nodiscard]] Predicted place_at_width() const {
    Predicted out = at_crossing(crossing(scan_widths(), model_.locked_mm, Past::narrower),
                                options_.errors.width_mm);
    out.value = model_.ruler_mm + model_.ruler_sign * out.value;
    return out;
  }
  // The eye takes half of the bead for its end; it could equally be a third or two thirds.
  [[nodiscard]] Predicted by_eye(double whole_mm, Past past) const {
    Predicted out = at_crossing(crossing(scan_widths(), whole_mm / 2, past), whole_mm / 6);
    out.sd = std::hypot(out.sd, eye_mm);
    return out;
  }
  [[nodiscard]] Predicted tail() const {
    double const steady =
        mean_width([](LayerModel const& l) -> PlaceRange const& { return l.steady; });
    return by_eye(steady, Past::narrower);
  }
  [[nodiscard]] Predicted gap() const {
    double const wanted = bead_width_mm(model_.layers.front().wanted_mm2, height_);
    return by_eye(wanted, Past::wider);
  }
  [[nodiscard]] Predicted mass() const {
    double mm3 = 0;
    for (PlaceRange const& s : model_.weighed) mm3 += out_[s.to] - out_[s.from];
    double const g = mm3 * options_.density_g_cm3 / 1000;
    // Densities of a batch differ by a percent or two.
    return {.value = g, .sd = std::hypot(options_.errors.mass_g, 0.02 * g)};
  }

  std::vector<double> const& out_;
  ReadingModel const& model_;
  PredictorOptions const& options_;
  double height_;
};

}  // namespace

Laid Laid::mixed(double scale, double share, Laid const& other) const {
  Laid out = *this;
  for (std::size_t i = 0; i < out.out_mm3_.size(); ++i)
    out.out_mm3_[i] = scale * out_mm3_[i] + share * (other.out_mm3_[i] - out_mm3_[i]);
  return out;
}

struct Predictor::Models {
  PredictorOptions options;
  ReadingModels list;
  Replay replay;

  Models(PrintedPath const& path, std::span<Reading const> readings, PredictorOptions const& with)
      : options(with),
        list(make_reading_models(path, readings, with)),
        replay(path, list.places_mm) {}
};

Predictor::Predictor(PrintedPath const& path,
                     std::span<Reading const> readings,
                     PredictorOptions const& options)
    : models_(std::make_unique<Models>(path, readings, options)) {}
Predictor::~Predictor() = default;
Predictor::Predictor(Predictor&&) noexcept = default;

Laid Predictor::simulate(TestedPlant const& plant) const {
  Laid laid;
  laid.out_mm3_ = models_->replay.out_mm3(plant);
  return laid;
}

Predicted Predictor::predict(Laid const& laid, std::size_t index, double layer_height_mm) const {
  return ModelledReading(
             laid.out_mm3_, models_->list.models[index], models_->options, layer_height_mm)
      .tell();
}

bool Predictor::usable(std::size_t index) const { return models_->list.models[index].usable; }

}  // namespace meltlag::reading
