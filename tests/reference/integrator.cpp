// SPDX-License-Identifier: MIT
// The run-on by small Runge-Kutta steps.
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double longest_step_s = 2e-4;
constexpr double shortest_step_s = 1e-6;  // for n > 1 the local lag vanishes with the flow
constexpr double steps_per_lag = 50;
constexpr double gas_constant = 8.314462618;  // J/(mol K)

}  // namespace

Barrel::Barrel(const Plant& plant)
    : plant_(plant), screw_(plant), inverse_index_(1 / plant.flow_index) {
  if (!(plant.run_on_mm3 > 0) || !(plant.flow_index > 0) || !(plant.at_flow_mm3_s > 0)) {
    throw std::invalid_argument("run-on, reference flow and flow index must be positive");
  }
}

void Barrel::set_temperature(std::optional<double> set_c) {
  scale_ = 1;
  if (!set_c || !plant_.at_c || !plant_.activation_kj_mol) return;
  const double by = 1 / (*set_c + 273.15) - 1 / (*plant_.at_c + 273.15);
  scale_ = std::exp(*plant_.activation_kj_mol * 1000 / gas_constant * by);
}

double Barrel::flow(double run_on) const {
  if (run_on <= 0) return 0;
  const double part = run_on / (plant_.run_on_mm3 * scale_);
  if (inverse_index_ == 1) return plant_.at_flow_mm3_s * part;
  if (inverse_index_ == 2) return plant_.at_flow_mm3_s * part * part;
  return plant_.at_flow_mm3_s * std::pow(part, inverse_index_);
}

// u(t) = u0 + slope t. Returns what left the nozzle.
double Barrel::integrate(double u0, double slope, double seconds) {
  const double leak = plant_.leak_per_s;
  const auto lost = [&](double w) { return w > 0 ? leak * w : 0.0; };
  double out = 0, t = 0;
  while (t < seconds) {
    double h = std::min(longest_step_s, seconds - t);
    const double q = flow(run_on_);
    if (q > 0) {
      const double lag = plant_.flow_index * run_on_ / q;
      h = std::min(h, std::max(lag / steps_per_lag, shortest_step_s));
    }
    const double u = u0 + slope * t, um = u + slope * h / 2, ue = u + slope * h;
    const double w0 = run_on_;
    const double k1 = u - q - lost(w0);
    const double w1 = w0 + h / 2 * k1, q1 = flow(w1), k2 = um - q1 - lost(w1);
    const double w2 = w0 + h / 2 * k2, q2 = flow(w2), k3 = um - q2 - lost(w2);
    const double w3 = w0 + h * k3, q3 = flow(w3), k4 = ue - q3 - lost(w3);
    run_on_ = w0 + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
    out += h / 6 * (q + 2 * q1 + 2 * q2 + q3);
    leaked_ += h / 6 * (lost(w0) + 2 * lost(w1) + 2 * lost(w2) + lost(w3));
    largest_ = std::max(largest_, run_on_);
    t += h;
    if (seconds - t < 1e-12) break;
  }
  return out;
}

double Barrel::advance(double v0, double a, double seconds, double e_per_mm) {
  double out = 0;
  for (const Feed& feed : screw_.turn(v0, a, seconds, e_per_mm)) {
    out += integrate(feed.mm3_s, feed.mm3_s2, feed.seconds);
  }
  return out;
}

double Barrel::run_out() {
  const double out = std::max(0.0, run_on_);
  if (run_on_ > 0) run_on_ = 0;
  screw_.wait();
  return out;
}

}  // namespace meltlag_reference
