// SPDX-License-Identifier: MIT
#include "dense_model.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::fit {
namespace {

constexpr double step_of_unknown = 4e-3;  // differences, of what is typical
// Plastic leaves all over the nozzle's mouth and spreads before it holds: a bead is smeared along
// its path. A disc of diameter d does that by a deviation of d/4, 0.23 mm for a nozzle of 0.9 mm;
// how much it is in truth is left to the fit, in units of it.
constexpr double mouth_mm = 0.23;
constexpr double mouth_sd = 0.5;
constexpr double place_sd_mm = 0.08;  // of single places along the way, beside the turn
constexpr double turn_sd_mm = 0.1;  // of the piece on the picture: places along the way, 90 mm out
constexpr double least_sd_mm = 0.005;  // a row's ± is not better than that
// Beforehand: mm, 90 mm out.
constexpr double slope_sd_mm = 0.06, bow_sd_mm = 0.06, offset_sd_mm = 0.04, harmonic_sd_mm = 0.02;

reading::PredictorOptions dense_predictor(reading::PredictorOptions options) {
  options.errors.place_mm = mouth_mm;
  return options;
}

}  // namespace

DenseModel::DenseModel(reading::PrintedPath const& path,
                       std::vector<reading::Reading> const& readings,
                       FitOptions const& options,
                       double reference_flow_mm3_s,
                       std::optional<Vec3> middle)
    : readings_(readings),
      options_(options),
      unknowns_(options, reference_flow_mm3_s, {}, {}),
      predictor_(path, readings, dense_predictor(options.predictor)) {
  Vec3 low{1e9, 1e9, 0}, high{-1e9, -1e9, 0};
  std::vector<Vec3> places;
  for (reading::Reading const& reading : readings) {
    reading::PathMove const& move = path.moves[path.move_of_line.at(reading.lines.front())];
    Vec3 const at = gcode::point_at(move.timed.move, reading.at_mm.front());
    Vec3 const way = gcode::direction_at(move.timed.move, reading.at_mm.front());
    places.push_back(at);
    low = {std::min(low.x, at.x), std::min(low.y, at.y), 0};
    high = {std::max(high.x, at.x), std::max(high.y, at.y), 0};
    rows_.push_back({.way_mm = move.way_mm + reading.at_mm.front(),
                     .x = 0,
                     .y = 0,
                     .turn_rad = std::atan2(way.y, way.x),
                     .sd_mm = std::max(least_sd_mm, reading.sd_mm)});
  }
  middle_ = middle.value_or(0.5 * (low + high));
  for (std::size_t i = 0; i < places.size(); ++i) {
    rows_[i].x = (places[i].x - middle_.x) / out_mm;
    rows_[i].y = (places[i].y - middle_.y) / out_mm;
  }
}

void DenseModel::describe(LeastSquaresProblem& problem) const {
  unknowns_.describe(problem);
  for (char const* name : {"layer height",
                           "slope in X",
                           "slope in Y",
                           "bow",
                           "edge offset",
                           "first harmonic, cosine",
                           "first harmonic, sine",
                           "second harmonic, cosine",
                           "second harmonic, sine",
                           "smearing along the way",
                           "turn of the piece"})
    problem.names.emplace_back(name);
  auto const more = [](Eigen::VectorXd& values, double with) {
    Eigen::Index const had = values.size();
    values.conservativeResize(size);
    values.tail(size - had).setConstant(with);
  };
  more(problem.lower, -1);
  more(problem.upper, 1);
  more(problem.typical, 0.05);
  problem.lower[height] = options_.predictor.layer_height_mm / 2;
  problem.upper[height] = options_.predictor.layer_height_mm * 2;
  problem.lower[mouth] = 0;
  problem.upper[mouth] = 4;
  problem.typical[mouth] = 0.5;
}

Eigen::VectorXd DenseModel::start(double run_on_mm3, double flow_index) const {
  Eigen::VectorXd at = Eigen::VectorXd::Zero(size);
  at.head(Unknowns::first_extra) =
      unknowns_.start(run_on_mm3, flow_index).head(Unknowns::first_extra);
  at[height] = options_.predictor.layer_height_mm;
  at[mouth] = 1;
  return at;
}

double DenseModel::height_at(Eigen::VectorXd const& at, Row const& row) const {
  double const h = at[height] + at[slope_x] * row.x + at[slope_y] * row.y +
                   at[bow] * (row.x * row.x + row.y * row.y);
  return std::max(h, 0.2 * options_.predictor.layer_height_mm);
}

double DenseModel::offset_at(Eigen::VectorXd const& at, Row const& row) {
  return at[offset] + at[first_harmonic] * std::cos(row.turn_rad) +
         at[first_harmonic + 1] * std::sin(row.turn_rad) +
         at[second_harmonic] * std::cos(2 * row.turn_rad) +
         at[second_harmonic + 1] * std::sin(2 * row.turn_rad);
}

reading::Laid const& DenseModel::laid(Eigen::VectorXd const& at) const {
  if (cached_at_.size() == 0 || cached_at_ != at.head(Unknowns::first_extra)) {
    cached_ = predictor_.simulate(unknowns_.plant(at));
    cached_at_ = at.head(Unknowns::first_extra);
  }
  return cached_;
}

Eigen::VectorXd DenseModel::errors_of(reading::Laid const& laid, Eigen::VectorXd const& at) const {
  Eigen::VectorXd out(static_cast<Eigen::Index>(rows_.size()));
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    Row const& row = rows_[i];
    reading::Predicted const told = predictor_.predict(laid, i, height_at(at, row));
    out[static_cast<Eigen::Index>(i)] = told.value + (at[mouth] - 1) * told.bend_mm +
                                        at[turn] * row.out() * told.slope_per_mm +
                                        offset_at(at, row) - *readings_[i].value;
  }
  return out;
}

Eigen::VectorXd DenseModel::errors_mm(Eigen::VectorXd const& at) const {
  return errors_of(laid(at), at);
}

void DenseModel::set_errors(Errors const& errors, Eigen::VectorXd const& at) {
  errors_ = errors;
  reading::Laid const& here = laid(at);
  for (std::size_t i = 0; i < rows_.size(); ++i)
    rows_[i].place_sd_mm =
        place_sd_mm * std::abs(predictor_.predict(here, i, height_at(at, rows_[i])).slope_per_mm);
}

Eigen::VectorXd DenseModel::whitened(Eigen::VectorXd const& errors_mm,
                                     Eigen::VectorXd const& at) const {
  auto const count = static_cast<Eigen::Index>(rows_.size());
  Eigen::VectorXd out(count + size);
  double const most = errors_.wander_mm * errors_.wander_mm;
  double wander = 0, variance = most;
  for (Eigen::Index i = 0; i < count; ++i) {
    Row const& row = rows_[static_cast<std::size_t>(i)];
    if (i > 0) {
      double const apart = row.way_mm - rows_[static_cast<std::size_t>(i - 1)].way_mm;
      double const alike = std::exp(-apart / errors_.alike_mm);
      wander *= alike;
      variance = alike * alike * variance + (1 - alike * alike) * most;
    }
    double const own = own_mm(static_cast<std::size_t>(i)), whole = variance + own * own;
    double const off = errors_mm[i] - wander;
    out[i] = off / std::sqrt(whole);
    wander += variance / whole * off;
    variance *= 1 - variance / whole;
  }
  Eigen::VectorXd three(Unknowns::first_extra);
  unknowns_.add_priors(at.head(Unknowns::first_extra), three, 0);
  out.segment(count, Unknowns::first_extra) = three;
  Eigen::Index row = count + Unknowns::first_extra;
  out[row++] =
      (at[height] - options_.predictor.layer_height_mm) / options_.predictor.errors.layer_height_mm;
  for (Eigen::Index const k : {slope_x, slope_y}) out[row++] = at[k] / slope_sd_mm;
  out[row++] = at[bow] / bow_sd_mm;
  out[row++] = at[offset] / offset_sd_mm;
  for (Eigen::Index k = first_harmonic; k < mouth; ++k) out[row++] = at[k] / harmonic_sd_mm;
  out[row++] = (at[mouth] - 1) / mouth_sd;
  out[row++] = at[turn] / turn_sd_mm;
  return out;
}

Eigen::VectorXd DenseModel::residuals_of(reading::TestedPlant const& plant,
                                         Eigen::VectorXd const& at) const {
  return whitened(errors_of(predictor_.simulate(plant), at), at)
      .head(static_cast<Eigen::Index>(rows_.size()));
}

Eigen::VectorXd DenseModel::residuals(Eigen::VectorXd const& at) const {
  return whitened(errors_mm(at), at);
}

// One-sided differences; the factor's derivative as in Residuals::jacobian().
Eigen::MatrixXd DenseModel::jacobian(Eigen::VectorXd const& at) const {
  LeastSquaresProblem bounds;
  describe(bounds);
  reading::Laid const here = laid(at);
  Eigen::VectorXd const start = whitened(errors_of(here, at), at);
  Eigen::MatrixXd out(start.size(), size);
  reading::Laid by_run_on;
  for (Eigen::Index k = 0; k < size; ++k) {
    double h = step_of_unknown * bounds.typical[k];
    if (at[k] + h > bounds.upper[k]) h = -h;
    Eigen::VectorXd moved = at;
    moved[k] += h;
    reading::Laid there = here;
    if (k == Unknowns::log_factor)
      there = here.mixed(1 + h, (moved[Unknowns::index] - 1) * h / step_of_unknown, by_run_on);
    else if (k < Unknowns::first_extra)
      there = predictor_.simulate(unknowns_.plant(moved));
    if (k == Unknowns::log_run_on) by_run_on = there;
    out.col(k) = (whitened(errors_of(there, moved), moved) - start) / h;
  }
  return out;
}

}  // namespace meltlag::fit
