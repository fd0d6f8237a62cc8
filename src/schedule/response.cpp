// SPDX-License-Identifier: MIT
#include "response.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::schedule {
namespace {

struct FlowSlope {
  double flow, slope;  // Q and dQ/dW
};

FlowSlope flow(LawConstants const& law, double run_on) {
  // An empty nozzle's slope is only a guide: it tells the optimum which way is out.
  if (run_on <= 0) return {0, law.at_flow_mm3_s / law.run_on_mm3};
  double const w = run_on / law.run_on_mm3;
  if (law.linear) return {law.at_flow_mm3_s * w, law.at_flow_mm3_s / law.run_on_mm3};
  double const q =
      law.at_flow_mm3_s * (law.inverse_index == 2.0 ? w * w : std::pow(w, law.inverse_index));
  return {q, law.inverse_index * q / std::max(run_on, 1e-9)};
}

// One classical Runge–Kutta step, differentiated along with it; also by the logarithm of the step's
// duration, where what is delivered in it stays the same.
void runge_kutta(LawConstants const& law,
                 double h,
                 double u_start,
                 double u_end,
                 double g0,
                 double g1,
                 NodeResult& r) {
  double const weights[4] = {1, 2, 2, 1}, offsets[4] = {0, 0.5, 0.5, 1};
  double k = 0, k_w = 0, k_r = 0, k_t = 0, sum_k = 0, sum_kw = 0, sum_kr = 0, sum_kt = 0, out = 0,
         out_w = 0, out_r = 0, out_t = 0;
  for (int stage = 0; stage < 4; ++stage) {
    double const o = offsets[stage], w = r.run_on_mm3 + h * o * k;
    double const w_w = r.run_on_by_run_on + h * o * k_w;
    double const w_r = r.run_on_by_rate + h * o * k_r;
    double const w_t = r.run_on_by_stretch + h * o * k_t;
    auto const [q, slope] = flow(law, w);
    double const leak = w > 0 ? law.leak_per_s : 0;
    k = u_start + o * (u_end - u_start) - q - leak * w;
    k_w = -(slope + leak) * w_w;
    k_r = g0 + o * (g1 - g0) - (slope + leak) * w_r;
    k_t = -q - leak * w - (slope + leak) * w_t;
    double const share = weights[stage] * h / 6;
    sum_k += share * k;
    sum_kw += share * k_w;
    sum_kr += share * k_r;
    sum_kt += share * k_t;
    out += share * q;
    out_w += share * slope * w_w;
    out_r += share * slope * w_r;
    out_t += share * (q + slope * w_t);
  }
  r.run_on_mm3 += sum_k;
  r.run_on_by_run_on += sum_kw;
  r.run_on_by_rate += sum_kr;
  r.run_on_by_stretch += sum_kt;
  r.got_mm3 += out;
  r.got_by_run_on += out_w;
  r.got_by_rate += out_r;
  r.got_by_stretch += out_t;
}

// n = 1: dW/dt = u − λ·W with u linear in time, in closed form.
NodeResult linear_step(LawConstants const& law,
                       double h,
                       double w,
                       double u_start,
                       double u_end,
                       double g0,
                       double g1,
                       Slopes slopes) {
  double const x = law.loss_per_s * h;
  double const decay = std::exp(-x);
  double f0,
      f1;  // response to the value at the start and to the slope: ∫e^{−λ(h−t)}dt, ∫t/h·e^{…}dt
  if (x < 1e-3) {
    f0 = h * (1 - x / 2 + x * x / 6);
    f1 = h * (0.5 - x / 6 + x * x / 24);
  } else {
    f0 = (1 - decay) / law.loss_per_s;
    f1 = (1 - f0 / h) / law.loss_per_s;
  }
  NodeResult r{};
  r.run_on_mm3 = decay * w + f0 * u_start + f1 * (u_end - u_start);
  r.run_on_by_run_on = decay;
  r.run_on_by_rate = f0 * g0 + f1 * (g1 - g0);
  double const in = h * (u_start + u_end) / 2;
  r.got_mm3 = law.nozzle_share * (w + in - r.run_on_mm3);
  r.got_by_run_on = law.nozzle_share * (1 - decay);
  r.got_by_rate = law.nozzle_share * (h * (g0 + g1) / 2 - r.run_on_by_rate);
  if (slopes == Slopes::rates) return r;
  // By the logarithm of h, with both values smaller as h grows.
  bool const is_short = x < 1e-3;
  double const f0_t = is_short ? h * (-x / 2 + x * x / 3) : h * decay - f0;
  double const f1_t = is_short ? h * (-x / 6 + x * x / 12) : (f0 / h - decay) / law.loss_per_s - f1;
  r.run_on_by_stretch = -x * decay * w + f0_t * u_start + f1_t * (u_end - u_start);
  r.got_by_stretch = -law.nozzle_share * r.run_on_by_stretch;
  return r;
}

// Steps that follow the flow's changes, unbounded.
double substeps(LawConstants const& law, double h, double run_on, double u_peak) {
  double const share = std::max(u_peak, 0.0) / law.at_flow_mm3_s;
  double const w_end =
      law.run_on_mm3 *
      (law.inverse_index == 2.0 ? std::sqrt(share) : std::pow(share, 1 / law.inverse_index));
  double const slope = flow(law, std::max(run_on, w_end)).slope + law.leak_per_s;
  return 2.5 * h * slope;
}

// What is left of a node of thousands of lags (a travel of hours): the flow is that of the screw,
// an empty nozzle fills or goes on emptying. What leaks meanwhile is not taken off.
void settle(LawConstants const& law, double rest_s, double u, double g, NodeResult& r) {
  if (u <= 0) {
    r.run_on_mm3 += rest_s * u;
    r.run_on_by_rate += rest_s * g;
    return;
  }
  double const index = 1 / law.inverse_index;
  double const run_on = law.run_on_mm3 * std::pow(u / law.at_flow_mm3_s, index);
  double const by_rate = index * run_on / u * g;
  r.got_mm3 += std::max(0.0, r.run_on_mm3 + rest_s * u - run_on);
  r.got_by_run_on += r.run_on_by_run_on;
  r.got_by_rate += r.run_on_by_rate + rest_s * g - by_rate;
  r.got_by_stretch += r.run_on_by_stretch;
  r.run_on_mm3 = run_on;
  r.run_on_by_run_on = r.run_on_by_stretch = 0;
  r.run_on_by_rate = by_rate;
}

}  // namespace

LawConstants constants(melt::LagLaw const& law, double leak_per_s) {
  LawConstants c{};
  c.run_on_mm3 = law.run_on_mm3;
  c.at_flow_mm3_s = law.at_flow_mm3_s;
  c.inverse_index = 1 / law.flow_index;
  c.linear = law.flow_index == 1.0;
  c.leak_per_s = leak_per_s;
  double const nozzle = law.at_flow_mm3_s / law.run_on_mm3;
  c.loss_per_s = nozzle + leak_per_s;
  c.nozzle_share = nozzle / c.loss_per_s;
  return c;
}

namespace {

NodeResult resting(double run_on_mm3) {
  return {.run_on_mm3 = run_on_mm3,
          .got_mm3 = 0,
          .run_on_by_run_on = 1,
          .run_on_by_rate = 0,
          .got_by_run_on = 0,
          .got_by_rate = 0,
          .run_on_by_stretch = 0,
          .got_by_stretch = 0};
}

// What happens in one node, from the run-on at its start.
struct NodeInput {
  double duration_s, run_on_mm3, rate;
  double u0, u1;  // delivered volume per second per unit of rate, at both ends
  double lost_mm3;
};

double substeps_of(LawConstants const& law, NodeInput const& in) {
  double const lost = in.lost_mm3 / in.duration_s;
  if (!law.linear) {
    double const peak = std::max(in.rate * in.u0 - lost, in.rate * in.u1 - lost);
    return substeps(law, in.duration_s, in.run_on_mm3, peak);
  }
  return std::max(7.0, 4 * in.duration_s * law.loss_per_s - 1);
}

// In one step more than `wanted`, or in closed form where there is one.
NodeResult advance(LawConstants const& law, NodeInput const& in, double wanted, Slopes slopes) {
  double const lost = in.lost_mm3 / in.duration_s;
  double const us = in.rate * in.u0 - lost, ue = in.rate * in.u1 - lost;
  NodeResult r = resting(in.run_on_mm3);
  if (law.linear) {
    r = linear_step(law, in.duration_s, in.run_on_mm3, us, ue, in.u0, in.u1, slopes);
    if (in.run_on_mm3 >= 0 && r.run_on_mm3 >= 0) return r;
    r = resting(in.run_on_mm3);
  }
  constexpr double most = 4000;
  double const walked_s = in.duration_s * std::min(1.0, most / wanted);
  int const n = 1 + static_cast<int>(std::min(most, wanted));
  double const h = walked_s / n, part = walked_s / in.duration_s;
  for (int i = 0; i < n; ++i) {
    double const a = part * i / n, b = part * (i + 1) / n;
    runge_kutta(law,
                h,
                us + a * (ue - us),
                us + b * (ue - us),
                in.u0 + a * (in.u1 - in.u0),
                in.u0 + b * (in.u1 - in.u0),
                r);
  }
  if (part < 1) settle(law, in.duration_s - walked_s, ue, in.u1, r);
  return r;
}

}  // namespace

NodeResult step(LawConstants const& law,
                double duration_s,
                double run_on_mm3,
                double rate,
                double u0,
                double u1,
                double lost_mm3,
                Slopes slopes) {
  if (duration_s <= 0) return resting(run_on_mm3);
  NodeInput const in{duration_s, run_on_mm3, rate, u0, u1, lost_mm3};
  return advance(law, in, substeps_of(law, in), slopes);
}

namespace {

// Backlash at a reversal swallows command until it is taken up on the other side.
class BacklashTaker {
 public:
  BacklashTaker(double backlash_mm3, double position_mm3)
      : backlash_(backlash_mm3), position_(std::clamp(position_mm3, 0.0, backlash_mm3)) {}
  // Returns the signed part of `command_mm3` that is lost.
  double lose(double command_mm3) {
    double const before = position_;
    position_ = std::clamp(position_ + command_mm3, 0.0, backlash_);
    return position_ - before;
  }
  [[nodiscard]] double position() const { return position_; }

 private:
  double backlash_, position_;
};

// Walks one cut through the supply; true to the plant but for where inside the cut it starves.
class CutFeeder {
 public:
  explicit CutFeeder(Problem const& problem)
      : area_(problem.feed.area_mm2()), feed_(problem.feed), supply_(problem.supply) {
    supply_.set(problem.start_wound_back_mm3, problem.start_store_mm3);
    was_fresh_ = supply_.wound_back_mm3() <= 0;
  }
  // `lost_mm3`: of each of its nodes, to backlash. Sets what `response` says of the supply; returns
  // the share of `rate` that is fed.
  double feed(Problem const& problem,
              Cut const& cut,
              double rate,
              std::vector<double> const& lost_mm3,
              CutResponse& response) {
    response.wound_in_mm3 = supply_.wound_back_mm3();
    response.store_in_mm3 = supply_.store_mm3();
    double const gain = area_ * feed_.delivered_factor * (rate < 0 ? feed_.reverse_factor : 1);
    double const starved = supply_.starved_mm3();
    double asked = 0;
    for (std::uint32_t k = 0; k < cut.nodes; ++k) {
      Node const& node = problem.nodes[cut.first_node + k];
      if (node.duration_s <= 0) continue;
      double const lost = lost_mm3.empty() ? 0 : lost_mm3[k] / node.duration_s;
      double const a = rate * gain * node.start_mm_s - lost, b = rate * gain * node.end_mm_s - lost;
      response.volume_per_rate += gain * node.duration_s * (node.start_mm_s + node.end_mm_s) / 2;
      response.peak_per_rate_mm3_s =
          std::max({response.peak_per_rate_mm3_s, gain * node.start_mm_s, gain * node.end_mm_s});
      response.last_per_rate_mm3_s = gain * node.end_mm_s;
      response.duration_s += node.duration_s;
      response.lost_mm3 += lost * node.duration_s;
      walk(node.duration_s, a, b, rate, response);
      double const fast_s = fast_until(node.duration_s, a, b);
      if (fast_s > 0)
        response.fast_mm3 = asked + fast_s * (a + (b - a) / 2 * fast_s / node.duration_s);
      asked += (a + b) / 2 * node.duration_s;
    }
    response.starved_mm3 = supply_.starved_mm3() - starved;
    response.wound_out_mm3 = supply_.wound_back_mm3();
    response.store_out_mm3 = supply_.store_mm3();
    return asked > 0 ? 1 - response.starved_mm3 / asked : 1;
  }
  void wait() { supply_.wait(); }

 private:
  // Until when a ramp from a to b is faster than what is fed for long.
  [[nodiscard]] double fast_until(double duration_s, double a, double b) const {
    double const q = supply_.limits().max_flow_mm3_s;
    if (b > q) return duration_s;
    return a > q ? duration_s * (a - q) / (a - b) : 0;
  }
  // What backlash swallows may turn the sign at one end.
  void walk(double duration_s, double a, double b, double rate, CutResponse& response) {
    melt::Ramp const ramp = rate < 0 ? melt::Ramp{duration_s, std::min(a, 0.0), std::min(b, 0.0)}
                                     : melt::Ramp{duration_s, std::max(a, 0.0), std::max(b, 0.0)};
    supply_.feed(ramp, [&](melt::Ramp const& fed) {
      if (rate >= 0 && was_fresh_) response.fresh_s += fed.duration_s;
      was_fresh_ = supply_.wound_back_mm3() <= 0;
    });
  }

  double area_;
  melt::Feed const& feed_;
  melt::Supply supply_;
  bool was_fresh_ = true;
};

void add_share(std::vector<CellShare>& shares, CutResponse& cut, CellShare const& share) {
  if (share.cell == no_cell) return;
  if (cut.shares > 0 && shares.back().cell == share.cell) {
    shares.back().got_mm3 += share.got_mm3;
    shares.back().by_run_on += share.by_run_on;
    shares.back().by_rate += share.by_rate;
    return;
  }
  shares.push_back(share);
  ++cut.shares;
}

}  // namespace

namespace {

double cost_of_changes(Problem const& problem, Linearisation const& line) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < line.cuts.size(); ++i) {
    if (!is_calmed(problem, i)) continue;
    CutResponse const &a = line.cuts[i], &b = line.cuts[i + 1];
    sum += std::min(a.volume_per_rate, b.volume_per_rate) * std::abs(b.rate - a.rate);
  }
  return problem.calm * sum;
}

}  // namespace

bool is_calmed(Problem const& problem, std::size_t i) {
  Cut const &a = problem.cuts[i], &b = problem.cuts[i + 1];
  return problem.calm > 0 && !a.fixed && !b.fixed && std::isfinite(a.jump_to_next);
}

double fed_rate_high(Problem const& problem, Cut const& cut, CutResponse const& r) {
  if (!problem.supply.limited() || r.peak_per_rate_mm3_s <= 0) return cut.rate_high;
  // Of what is wound back nothing is given again sooner.
  bool const fresh = r.wound_in_mm3 <= 0 && r.wound_out_mm3 <= 0;
  double const fed = fresh ? problem.supply.max_flow_mm3_s / r.peak_per_rate_mm3_s : r.rate;
  return std::max(std::min(cut.rate_high, std::max(fed, r.rate)), cut.rate_low + 1e-9);
}

bool lumps(Problem const& problem, std::size_t cell) {
  return problem.lump_price > 0 && !problem.may_lump.empty() && problem.may_lump[cell] &&
         problem.wanted_mm3[cell] > 0;
}

double misplaced(Problem const& problem, Linearisation const& line, std::vector<double>& got) {
  got.assign(problem.wanted_mm3.size(), 0.0);
  for (CellShare const& share : line.shares) got[share.cell] += share.got_mm3;
  double sum = cost_of_changes(problem, line);
  for (std::size_t c = 0; c < got.size(); ++c) {
    double const price = problem.cell_price.empty() ? 1 : problem.cell_price[c];
    sum += price * std::abs(got[c] - problem.wanted_mm3[c]);
    if (lumps(problem, c)) {
      double const lump = got[c] - problem.lump_from * problem.wanted_mm3[c];
      sum += problem.lump_price * std::max(0.0, lump);
    }
  }
  if (problem.end_run_on_mm3) sum += std::abs(line.run_on_mm3.back() - *problem.end_run_on_mm3);
  // Neither turning in vain nor an overfull barrel can be allowed to pay.
  for (CutResponse const& cut : line.cuts) sum += cut.starved_mm3;
  for (double w : line.run_on_mm3) sum += 10 * std::max(0.0, w - problem.most_run_on_mm3);
  return sum;
}

namespace {

// Goes through the cuts in order and fills in what comes of each.
class Lineariser {
 public:
  Lineariser(Problem const& problem, Slopes slopes, Linearisation& result)
      : problem_(problem),
        result_(result),
        durations_(slopes == Slopes::rates_and_durations),
        backlash_(problem.feed.backlash_mm * area_, problem.start_backlash_mm3),
        feeder_(problem),
        run_on_(problem.start_run_on_mm3) {
    for (auto const& law : problem.laws) laws_.push_back(constants(law, problem.leak_per_s));
  }
  void add(Cut const& cut, double rate_asked);
  [[nodiscard]] double run_on() const { return run_on_; }

 private:
  void take_up_backlash(Cut const& cut, double rate, double gain);
  double pass_nodes(Cut const& cut, double gain, CutResponse& response);

  Problem const& problem_;
  Linearisation& result_;
  bool durations_;
  double area_ = problem_.feed.area_mm2();
  std::vector<LawConstants> laws_;
  BacklashTaker backlash_;
  CutFeeder feeder_;
  std::vector<double> lost_mm3_;  // to backlash in each node of the cut; empty: there is none
  double run_on_;
};

void Lineariser::take_up_backlash(Cut const& cut, double rate, double gain) {
  lost_mm3_.clear();
  if (!(problem_.feed.backlash_mm > 0)) return;
  for (std::uint32_t j = cut.first_node; j < cut.first_node + cut.nodes; ++j) {
    Node const& node = problem_.nodes[j];
    double const command = rate * area_ * node.duration_s * (node.start_mm_s + node.end_mm_s) / 2;
    lost_mm3_.push_back(backlash_.lose(command) * gain / area_);
  }
}

// Returns d run-on / d stretch at the cut's end.
double Lineariser::pass_nodes(Cut const& cut, double gain, CutResponse& response) {
  double const rate = response.rate;
  double by_stretch = 0;
  for (std::uint32_t j = cut.first_node; j < cut.first_node + cut.nodes; ++j) {
    Node const& node = problem_.nodes[j];
    double const lost = lost_mm3_.empty() ? 0 : lost_mm3_[j - cut.first_node];
    NodeResult const r = step(laws_[cut.law],
                              node.duration_s,
                              run_on_,
                              rate,
                              gain * node.start_mm_s,
                              gain * node.end_mm_s,
                              lost,
                              durations_ ? Slopes::rates_and_durations : Slopes::rates);
    // Chain rule from the cut's start.
    CellShare const share{node.cell,
                          r.got_mm3,
                          r.got_by_run_on * response.by_run_on,
                          r.got_by_run_on * response.by_rate + r.got_by_rate};
    add_share(result_.shares, response, share);
    if (durations_) {
      result_.share_by_stretch.resize(result_.shares.size(), 0.0);
      if (node.cell != no_cell)
        result_.share_by_stretch.back() += r.got_by_run_on * by_stretch + r.got_by_stretch;
      by_stretch = r.run_on_by_run_on * by_stretch + r.run_on_by_stretch;
    }
    response.by_rate = r.run_on_by_run_on * response.by_rate + r.run_on_by_rate;
    response.by_run_on *= r.run_on_by_run_on;
    run_on_ = r.run_on_mm3;
  }
  return by_stretch;
}

void Lineariser::add(Cut const& cut, double rate_asked) {
  double const gain =
      area_ * problem_.feed.delivered_factor * (rate_asked < 0 ? problem_.feed.reverse_factor : 1);
  CutResponse response{
      run_on_, rate_asked, run_on_, 1, 0, static_cast<std::uint32_t>(result_.shares.size()), 0};
  take_up_backlash(cut, rate_asked, gain);
  response.rate_asked = rate_asked;
  response.rate *= feeder_.feed(problem_, cut, rate_asked, lost_mm3_, response);
  double const by_stretch = pass_nodes(cut, gain, response);
  response.run_on_out_mm3 = run_on_;
  if (cut.run_out_after) {
    run_on_ = std::min(run_on_, 0.0);
    feeder_.wait();
  }
  result_.backlash_mm3.push_back(backlash_.position());
  result_.run_on_mm3.push_back(response.run_on_in_mm3);
  result_.cuts.push_back(response);
  if (durations_) result_.out_by_stretch.push_back(by_stretch);
}

}  // namespace

void linearise(Problem const& problem,
               std::vector<double> const& rates,
               Linearisation& result,
               Slopes slopes) {
  result.cuts.clear();
  result.out_by_stretch.clear();
  result.share_by_stretch.clear();
  result.shares.clear();
  result.backlash_mm3.clear();
  result.run_on_mm3.clear();
  Lineariser lineariser(problem, slopes, result);
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) lineariser.add(problem.cuts[i], rates[i]);
  result.run_on_mm3.push_back(lineariser.run_on());
}

}  // namespace meltlag::schedule
