// SPDX-License-Identifier: MIT
// n ≠ 1: error-controlled steps. Volumes in a piece set the scale of the tolerance.
#include <algorithm>
#include <cmath>
#include <type_traits>

#include "filled.hpp"
#include "powers.hpp"
#include "root.hpp"
#include "step.hpp"

namespace meltlag::melt {
namespace {

constexpr double rounding = 1e-14;       // of the run-on: below it an error estimate is noise
constexpr double shortest_share = 1e-7;  // of the piece: such a step is taken whatever its error
// Pieces of more lags than this take the method that does not mind stiffness.
constexpr double stiff_lags = 60;

// u = 0 and no leak: W^(1−m) grows linearly, W = W0·[1 + (m−1)·t·Q0/W0]^(−1/(m−1)).
template <class Flow>
double bleed_down(Flow const& flow, double w0, double t) {
  double const m = flow.exponent;
  if (!(w0 > 0)) {
    return 0;
  }
  double const lags = t * flow(w0) / w0;
  if constexpr (std::is_same_v<decltype(flow.power), Square>) {
    return w0 / (1 + lags);
  } else {
    double const grown = (m - 1) * lags;  // reaches −1, for n > 1, when the nozzle is empty
    return grown > -1 ? w0 * std::exp(-std::log1p(grown) / (m - 1)) : 0;
  }
}

// A bound of the lags (one over the local lag times the duration) that a piece lasts.
template <class Flow>
double lags_in(Equation<Flow> const& eq, double w0) {
  double const t = eq.input.duration_s;
  double const u_most = std::max({0.0, eq.input.start_mm3_s, eq.input.at(t)});
  double const filled = w0 + std::max(0.0, eq.input.volume(t));
  if (eq.flow.exponent < 1) {  // n > 1: the law is steepest when nearly empty
    return stiff_lags + 1;
  }
  double const quick = t * (eq.flow.slope(filled) + eq.leak_per_s);
  if (quick <= 1) {
    return quick;
  }
  // It cannot fill beyond the run-on at which the input flows straight out.
  double const steady =
      std::pow(u_most / eq.flow.reference_flow_mm3_s, 1 / eq.flow.exponent) / eq.flow.per_run_on;
  return t * (eq.flow.slope(std::max(w0, std::min(filled, steady))) + eq.leak_per_s);
}

template <class Flow, class Stepper>
class Integration {
 public:
  Integration(Equation<Flow> const& eq, Stepper step, double w0, double step_error)
      : eq_(eq), step_(step), w_(w0), rate_(eq.rate(0, w0)) {
    double const t = eq.input.duration_s;
    double const through = std::min((eq.flow(w0) + eq.leak_per_s * w0) * t, w0);
    tolerance_ = step_error * (through + std::abs(eq.input.volume(t))) + rounding * w0;
  }

  Filled run(double first_step_s) {
    double const end = eq_.input.duration_s;
    double h = std::min(first_step_s, end);
    while (t_ < end) {
      bool const last = h >= end - t_;
      h = last ? end - t_ : h;
      Step const taken = step_(eq_, t_, h, w_, rate_);
      bool const good = taken.error <= tolerance_ || h <= shortest_share * end;
      if (good && taken.w <= 0 && runs_dry()) {
        return empty_within(h);
      }
      if (good) {
        accept(taken, last ? end : t_ + h);
      }
      if (t_ < end) {
        h *= growth(taken.error);
      }
    }
    return {end, w_, eq_.leak_per_s * held_};
  }

 private:
  [[nodiscard]] bool runs_dry() const {
    return eq_.input.start_mm3_s < 0 || eq_.input.at(eq_.input.duration_s) < 0;
  }

  void accept(Step const& taken, double t) {
    t_ = t;
    w_ = std::max(0.0, taken.w);  // an input ≥ 0 cannot empty the nozzle; below 0 is error
    rate_ = taken.end_rate;
    held_ += taken.held;
  }

  // Standard controller for an estimate of order 5 (Dormand–Prince), cautious for order 4.
  [[nodiscard]] double growth(double error) const {
    double const wanted = 0.9 * std::pow(tolerance_ / std::max(error, 1e-300), 0.2);
    return std::clamp(wanted, 0.2, 4.0);
  }

  // The nozzle runs empty within the step of length `h`: ends exactly there.
  Filled empty_within(double h) {
    auto const at = [&](double s) {
      Step const taken = step_(eq_, t_, s, w_, rate_);
      return Falling{taken.w, taken.end_rate};
    };
    double const s = falling_root(at, h, 1e-14 * w_);
    held_ += step_(eq_, t_, s, w_, rate_).held;
    return {t_ + s, 0, eq_.leak_per_s * held_};
  }

  Equation<Flow> eq_;
  Stepper step_;
  double t_ = 0, w_, rate_, held_ = 0;
  double tolerance_;
};

template <class Flow>
Filled integrate(Equation<Flow> const& eq, double w0, double step_error) {
  double const t = eq.input.duration_s;
  double const lags = lags_in(eq, w0);
  if (lags > stiff_lags) {
    return Integration(eq, exponential_step<Flow>, w0, step_error).run(t / stiff_lags);
  }
  return Integration(eq, dormand_prince_step<Flow>, w0, step_error).run(lags <= 1 ? t : t / lags);
}

}  // namespace

Filled advance_power(NozzleFlow const& flow,
                     double leak_per_s,
                     Input const& input,
                     double run_on_mm3,
                     double step_error) {
  return with_flow_law(flow, [&]<class Flow>(Flow const& law) {
    if (input.start_mm3_s == 0 && input.slope_mm3_s2 == 0 && leak_per_s == 0) {
      return Filled{input.duration_s, bleed_down(law, run_on_mm3, input.duration_s), 0};
    }
    return integrate(Equation<Flow>{law, input, leak_per_s}, run_on_mm3, step_error);
  });
}

}  // namespace meltlag::melt
