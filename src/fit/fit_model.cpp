// SPDX-License-Identifier: MIT
#include "fit_model.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>

#include "meltlag/base/parallel.hpp"

namespace meltlag::fit {
namespace {

constexpr double least_index = 0.1, most_index = 1.6;
constexpr double least_run_on_mm3 = 1e-3, most_run_on_mm3 = 1e3;
constexpr double difference_step = 4e-3;  // of an unknown's typical size
constexpr double step_error = 1e-6;       // of the replay: far below what measuring scatters
constexpr double least_height_share = 0.5, most_height_share = 2;

struct ExtraValue {
  char const* name;
  double start, lower, upper, typical;
};

std::vector<ExtraValue> values_of(Extra extra) {
  switch (extra) {
    case Extra::backlash:
      return {{"backlash", 0.05, 0, 20, 0.2}};
    case Extra::reverse_factor:
      return {{"reverse factor", 0.95, 0.05, 1.5, 0.2}};
    case Extra::leak:
      return {{"leak", 0.01, 0, 5, 0.05}};
    case Extra::creep:
      return {{"creep", 0.05, 0, 0.9, 0.1}};
    case Extra::pulsation:
      return {{"pulsation, cosine", 0.01, -0.9, 0.9, 0.05},
              {"pulsation, sine", 0.01, -0.9, 0.9, 0.05}};
  }
  return {};
}

}  // namespace

char const* name_of(Extra extra) {
  switch (extra) {
    case Extra::backlash:
      return "backlash or wind-up";
    case Extra::reverse_factor:
      return "reverse factor";
    case Extra::leak:
      return "leak";
    case Extra::creep:
      return "creep";
    case Extra::pulsation:
      return "pulsation with the turn";
  }
  return "";
}

Unknowns::Unknowns(FitOptions const& options,
                   double reference_flow_mm3_s,
                   std::vector<std::string> traces,
                   std::vector<Extra> extras)
    : options_(options),
      reference_flow_mm3_s_(reference_flow_mm3_s),
      traces_(std::move(traces)),
      extras_(std::move(extras)),
      first_height_(first_extra) {
  for (Extra const extra : extras_)
    first_height_ += static_cast<Eigen::Index>(values_of(extra).size());
}

Eigen::Index Unknowns::height_of(std::string const& trace) const {
  auto const found = std::find(traces_.begin(), traces_.end(), trace);
  assert(found != traces_.end());
  return first_height_ + (found - traces_.begin());
}

Eigen::Index Unknowns::place_of(Extra extra) const {
  Eigen::Index place = first_extra;
  for (Extra const one : extras_) {
    if (one == extra) return place;
    place += static_cast<Eigen::Index>(values_of(one).size());
  }
  assert(false);
  return place;
}

void Unknowns::describe(LeastSquaresProblem& problem) const {
  Eigen::Index const n = size();
  problem.names = {"run-on", "flow index", "delivered factor"};
  problem.lower = Eigen::VectorXd::Constant(n, -std::numeric_limits<double>::infinity());
  problem.upper = -problem.lower;
  problem.typical = Eigen::VectorXd::Ones(n);
  problem.lower[log_run_on] = std::log(least_run_on_mm3);
  problem.upper[log_run_on] = std::log(most_run_on_mm3);
  problem.lower[index] = least_index;
  problem.upper[index] = most_index;
  problem.lower[log_factor] = std::log(0.2);
  problem.upper[log_factor] = std::log(5.0);
  Eigen::Index i = first_extra;
  for (Extra const extra : extras_) {
    for (ExtraValue const& value : values_of(extra)) {
      problem.names.emplace_back(value.name);
      problem.lower[i] = value.lower;
      problem.upper[i] = value.upper;
      problem.typical[i++] = value.typical;
    }
  }
  double const height = options_.predictor.layer_height_mm;
  for (std::string const& trace : traces_) {
    problem.names.push_back("layer height of trace " + trace);
    problem.lower[i] = least_height_share * height;
    problem.upper[i] = most_height_share * height;
    problem.typical[i++] = height;
  }
}

Eigen::VectorXd Unknowns::start(double run_on_mm3, double flow_index) const {
  Eigen::VectorXd at = Eigen::VectorXd::Zero(size());
  at[log_run_on] = std::log(run_on_mm3);
  at[index] = flow_index;
  Eigen::Index i = first_extra;
  for (Extra const extra : extras_)
    for (ExtraValue const& value : values_of(extra)) at[i++] = value.start;
  for (; i < size(); ++i) at[i] = options_.predictor.layer_height_mm;
  return at;
}

reading::TestedPlant Unknowns::plant(Eigen::VectorXd const& at) const {
  reading::TestedPlant tested{.plant = {.law = {.run_on_mm3 = std::exp(at[log_run_on]),
                                                .at_flow_mm3_s = reference_flow_mm3_s_,
                                                .flow_index = at[index],
                                                .at_c = {},
                                                .activation_kj_mol = {}},
                                        .feed = options_.feed,
                                        .leak_per_s = options_.leak_per_s,
                                        .step_error = step_error}};
  melt::Feed& feed = tested.plant.feed;
  feed.delivered_factor = std::exp(at[log_factor]);
  for (Extra const extra : extras_) {
    double const value = at[place_of(extra)];
    switch (extra) {
      case Extra::backlash:
        feed.backlash_mm = value;
        break;
      case Extra::reverse_factor:
        feed.reverse_factor = value;
        break;
      case Extra::leak:
        tested.plant.leak_per_s = value;
        break;
      case Extra::creep:
        tested.creep_share = value;
        tested.creep_s = assumed_creep_s;
        break;
      case Extra::pulsation:
        tested.pulse_cos = value;
        tested.pulse_sin = at[place_of(extra) + 1];
        tested.e_mm_per_turn = options_.e_mm_per_turn;
        break;
    }
  }
  return tested;
}

void Unknowns::add_priors(Eigen::VectorXd const& at,
                          Eigen::VectorXd& residuals,
                          Eigen::Index row) const {
  double const log_there =
      at[log_run_on] + at[index] * std::log(Beforehand::flow_mm3_s / reference_flow_mm3_s_);
  residuals[row++] = (log_there - Beforehand::log_run_on) / Beforehand::log_run_on_sd;
  residuals[row++] = (at[index] - Beforehand::index) / Beforehand::index_sd;
  double const factor = options_.feed.delivered_factor;
  residuals[row++] = options_.factor_sd
                         ? (at[log_factor] - std::log(factor)) * factor / *options_.factor_sd
                         : at[log_factor] / Beforehand::log_factor_sd;
  for (Eigen::Index i = first_height_; i < size(); ++i)
    residuals[row++] =
        (at[i] - options_.predictor.layer_height_mm) / options_.predictor.errors.layer_height_mm;
}

Residuals::Residuals(reading::Predictor const& predictor,
                     std::vector<reading::Reading> const& readings,
                     Unknowns const& unknowns)
    : predictor_(predictor),
      readings_(readings),
      unknowns_(unknowns),
      sd_(Eigen::VectorXd::Ones(static_cast<Eigen::Index>(readings.size()))),
      left_out_(readings.size(), false) {}

double Residuals::height(Eigen::VectorXd const& at, std::size_t row) const {
  bool const weighed =
      readings_[row].kind == reading::ReadingKind::mass;  // its height does not matter
  return weighed ? 1 : at[unknowns_.height_of(readings_[row].trace)];
}

reading::Laid const& Residuals::laid(Eigen::VectorXd const& at) const {
  Eigen::Index const count = unknowns_.first_height();
  if (cached_at_.size() != count || cached_at_ != at.head(count)) {
    cached_ = predictor_.simulate(unknowns_.plant(at));
    cached_at_ = at.head(count);
  }
  return cached_;
}

std::vector<reading::Predicted> Residuals::predict(Eigen::VectorXd const& at) const {
  std::vector<reading::Predicted> out;
  for (std::size_t i = 0; i < readings_.size(); ++i)
    out.push_back(predictor_.predict(laid(at), i, height(at, i)));
  return out;
}

void Residuals::settle(Eigen::VectorXd const& at) {
  std::vector<reading::Predicted> const predicted = predict(at);
  for (std::size_t i = 0; i < predicted.size(); ++i)
    sd_[static_cast<Eigen::Index>(i)] = predicted[i].sd;
}

Eigen::VectorXd Residuals::values(reading::Laid const& laid, Eigen::VectorXd const& at) const {
  auto const rows = static_cast<Eigen::Index>(readings_.size());
  Eigen::VectorXd out(rows + unknowns_.prior_count());
  for (std::size_t i = 0; i < readings_.size(); ++i) {
    auto const row = static_cast<Eigen::Index>(i);
    out[row] =
        left_out_[i]
            ? 0
            : (predictor_.predict(laid, i, height(at, i)).value - *readings_[i].value) / sd_[row];
  }
  unknowns_.add_priors(at, out, rows);
  return out;
}

Eigen::VectorXd Residuals::operator()(Eigen::VectorXd const& at) const {
  return values(laid(at), at);
}

// Differences to one side: their error, of the order of the step, is far below what measuring
// scatters. Heights do not change what is laid down. Nor does the factor need a simulation of its
// own: with W = f·w the equations for w are those of the factor 1 and a run-on S·f^(n−1), so
//   d out / d ln f = out + (n − 1)·d out / d ln S.
Eigen::MatrixXd Residuals::jacobian(Eigen::VectorXd const& at) const {
  auto const rows = static_cast<Eigen::Index>(readings_.size()) + unknowns_.prior_count();
  Eigen::MatrixXd out(rows, unknowns_.size());
  reading::Laid const here = laid(at);
  std::vector<Eigen::VectorXd> const moved = moved_from(at);
  std::vector<reading::Laid> const all = simulate(moved);
  Eigen::VectorXd const start = values(here, at);
  for (Eigen::Index k = 0; k < unknowns_.size(); ++k) {
    Eigen::VectorXd const& there = moved[static_cast<std::size_t>(k)];
    double const h = there[k] - at[k];
    if (k == Unknowns::log_factor) {
      double const by_s = (there[Unknowns::index] - 1) * h / difference_step;
      out.col(k) = values(here.mixed(1 + h, by_s, all[Unknowns::log_run_on]), there);
    } else {
      bool const same = k >= unknowns_.first_height();
      out.col(k) = values(same ? here : all[static_cast<std::size_t>(k)], there);
    }
    out.col(k) = (out.col(k) - start) / h;
  }
  return out;
}

// One unknown moved in each.
std::vector<Eigen::VectorXd> Residuals::moved_from(Eigen::VectorXd const& at) const {
  LeastSquaresProblem bounds;
  unknowns_.describe(bounds);
  std::vector<Eigen::VectorXd> out(static_cast<std::size_t>(unknowns_.size()), at);
  for (Eigen::Index k = 0; k < unknowns_.size(); ++k) {
    double const h = difference_step * bounds.typical[k];
    out[static_cast<std::size_t>(k)][k] += at[k] + h > bounds.upper[k] ? -h : h;
  }
  return out;
}

// What each of those lays down that needs a simulation; the others stay empty.
std::vector<reading::Laid> Residuals::simulate(std::vector<Eigen::VectorXd> const& moved) const {
  std::vector<reading::Laid> out(moved.size());
  auto const count = static_cast<std::size_t>(unknowns_.first_height());
  in_parallel(count, 0, [&](std::size_t k) {
    if (k != Unknowns::log_factor) out[k] = predictor_.simulate(unknowns_.plant(moved[k]));
  });
  return out;
}

}  // namespace meltlag::fit
