// SPDX-License-Identifier: MIT
// The problem made linear along the last trajectory.
//
// Unknowns, cut by cut: the run-on W after each free cut, from which its rate follows, and where
// the screw's supply is limited one more, S, which is
//   D, wound back and not given again, after a cut that leaves some of it so (as it did last time);
//   B, the store, after any other cut, where there is a store.
// With d the delivered volume of a cut and t its time, the rows are
//   D_i ≤ D_before − d,  D_i ≥ −(what the store held last time)
//   B_i ≤ B_before + q·t − d,  0 ≤ B_i ≤ b;  without a store d ≤ q·t, at the cut's fastest moment
//   B_i ≤ B_then + q·t_fresh − (d − D_before)   where the last of D is given again in the cut;
//   without a store and at no more than q all the way d − D_before ≤ q·t
// Which row holds follows the last trajectory, as it does for backlash. All of them ask for no more
// than the screw can do: where the guess was wrong they are too strict, never too lax.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "affine.hpp"
#include "fastest_rise.hpp"
#include "meltlag/schedule/problem.hpp"
#include "meltlag/solve/band_program.hpp"
#include "response.hpp"

namespace meltlag::schedule {

// Which of the limits on run-on, on rates and on their changes become rows: all, or only those that
// the trajectory comes near to.
enum class Limits : std::uint8_t { all, near_by };

template <std::size_t Width>
class Tangent {
 public:
  using Affine = BasicAffine<Width>;

  // x receives the trajectory's own values. `floors`: how far below 0 the run-on of an empty nozzle
  // may go, as a multiple of the trajectory's. 1 keeps the tangent true; where the limits changed
  // since, only more may leave a way.
  void build(Problem const& problem,
             Linearisation const& line,
             std::vector<double>& x,
             double floors = 1,
             Limits limits = Limits::all);
  // Whether x breaks a limit that was left out.
  [[nodiscard]] bool breaks_left_out(std::vector<double> const& x) const;
  // The rates that x stands for.
  void read(std::vector<double> const& x, std::vector<double>& rates) const;
  [[nodiscard]] solve::BasicBandProgram<Width> const& program() const { return program_; }

 private:
  static constexpr double infinity = std::numeric_limits<double>::infinity();
  static constexpr double least_by_rate = 1e-12;
  static constexpr double room_mm3 = 1e-6;
  // Less than this is nothing left: the solver's answers end a little inside their bounds.
  static constexpr double left_mm3 = 1e-4;
  static constexpr double crumb = 0.25;  // of what a cut delivers
  // What the rows say the screw still has: D where something is wound back, else B.
  struct Ready {
    bool wound_back = false;
    Affine value;
  };

  [[nodiscard]] bool is_free(std::size_t i) const {
    return !problem_->cuts[i].fixed && line_->cuts[i].by_rate > least_by_rate;
  }
  // Above the least.
  [[nodiscard]] double greatest_rate(std::size_t i) const {
    Cut const& cut = problem_->cuts[i];
    return std::max(std::min(cut.rate_high, high_of_[i]), cut.rate_low + 1e-9);
  }
  std::uint32_t new_unknown(double start) {
    x_->push_back(start);
    return static_cast<std::uint32_t>(x_->size() - 1);
  }
  void add_cut(std::size_t i, Affine& run_on, Ready& ready);
  void add_shares(CutResponse const& r, Affine const& in, Affine const& rate);
  void add_cost(double price, CellShare const& share, Affine const& in, Affine const& rate);
  void add_linear(Affine const& cost);
  [[nodiscard]] Affine fed_more(CutResponse const& r, Affine const& wound_back);
  [[nodiscard]] static bool starves(CutResponse const& r) { return r.starved_mm3 > room_mm3; }
  void add_supply(std::size_t i, Affine const& rate, Ready& ready);
  void add_fresh(std::size_t i, Affine const& delivered, Ready& ready);
  double fed_fresh(std::size_t i, bool last_of_it);
  Affine keep_store(std::size_t i, Affine left);
  [[nodiscard]] double fastest_fresh(CutResponse const& r) const;
  [[nodiscard]] double spilt(CutResponse const& r) const;
  void add_cells();
  void add_lump(Affine const& cell, double from_mm3);
  void find_near();
  void add_limits();
  void add_outer_junctions();
  void add_junction(Affine const& before, Affine const& after, double jump, double scale);
  void add_calm();
  void add_range(Affine const& value, double low, double high, double scale = 1);

  Problem const* problem_ = nullptr;
  double floors_ = 1;
  Limits limits_ = Limits::all;
  Linearisation const* line_ = nullptr;
  std::vector<double>* x_ = nullptr;
  solve::BasicBandProgram<Width> program_;
  std::vector<Affine> rate_of_;            // per cut
  std::vector<Affine> cells_;              // per cell
  std::vector<std::uint32_t> unknown_of_;  // per cut: its run-on's
  std::vector<double> high_of_;            // per cut: its rate's upper bound
  // Per cut: whether it or one close to it comes near to its limits on run-on, on its rate, and on
  // the change of rate behind it.
  std::vector<char> near_run_on_, near_rate_, near_jump_;
};

template <std::size_t Width>
void Tangent<Width>::add_range(Affine const& value, double low, double high, double scale) {
  if (value.first == Affine::constant_only) return;
  program_.ranges.push_back(
      {value.row(scale), scale * (low - value.constant), scale * (high - value.constant)});
}

template <std::size_t Width>
void Tangent<Width>::build(Problem const& problem,
                           Linearisation const& line,
                           std::vector<double>& x,
                           double floors,
                           Limits limits) {
  problem_ = &problem;
  limits_ = limits;
  floors_ = floors;
  line_ = &line;
  x_ = &x;
  program_.clear();
  std::size_t const n = problem.cuts.size();
  rate_of_.assign(n, {});
  unknown_of_.assign(n, Affine::constant_only);
  high_of_.assign(n, infinity);
  cells_.assign(problem.wanted_mm3.size(), {});
  x.clear();
  Affine run_on;
  run_on.constant = problem.start_run_on_mm3;
  Ready ready;
  if (n > 0) {
    ready.wound_back = line.cuts.front().wound_in_mm3 > left_mm3;
    ready.value.constant =
        ready.wound_back ? line.cuts.front().wound_in_mm3 : line.cuts.front().store_in_mm3;
  }
  for (std::size_t i = 0; i < n; ++i) add_cut(i, run_on, ready);
  program_.unknowns = x.size();
  program_.linear.resize(x.size(), 0.0);
  add_cells();
  add_limits();
  add_calm();
  if (problem.end_run_on_mm3 && run_on.first != Affine::constant_only) {
    program_.terms.push_back({run_on.row(), *problem.end_run_on_mm3 - run_on.constant});
  }
}

template <std::size_t Width>
void Tangent<Width>::add_cut(std::size_t i, Affine& run_on, Ready& ready) {
  Cut const& cut = problem_->cuts[i];
  CutResponse const& r = line_->cuts[i];
  Affine out, rate;
  if (is_free(i)) {
    std::uint32_t const unknown = unknown_of_[i] = new_unknown(r.run_on_out_mm3);
    out.add(1, unknown);
    // rate = r̄ + (out − out̄ − α·(in − in̄)) / β
    double const beta = 1 / r.by_rate;
    rate.constant = r.rate - beta * (r.run_on_out_mm3 - r.by_run_on * r.run_on_in_mm3);
    rate.add(-beta * r.by_run_on, run_on);
    rate.add(beta, unknown);
  } else {
    rate.constant = r.rate;
    if (starves(r) && ready.wound_back && r.wound_in_mm3 > left_mm3) {
      Affine const more = fed_more(r, ready.value);
      rate.add(1, more);
      out.add(r.by_rate, more);
    }
    out.constant += r.run_on_out_mm3 - r.by_run_on * r.run_on_in_mm3;
    out.add(r.by_run_on, run_on);
  }
  add_shares(r, run_on, rate);
  rate_of_[i] = rate;
  // The run-on after a free cut is bounded as an unknown; after a fixed one it takes a row.
  if (!is_free(i) && std::isfinite(problem_->most_run_on_mm3))
    add_range(out, -infinity, problem_->most_run_on_mm3);
  if (problem_->supply.limited()) add_supply(i, rate, ready);
  // In a wait the run-on runs out; an empty nozzle stays empty.
  bool const ran_out = cut.run_out_after && r.run_on_out_mm3 > 0;
  run_on = ran_out ? Affine{} : out;
}

// By how much the rate of a given cut that starves rises with what is wound back before it: as much
// more is given again at its fastest, instead of what is fed for long. Up to what it asks for.
template <std::size_t Width>
typename Tangent<Width>::Affine Tangent<Width>::fed_more(CutResponse const& r,
                                                         Affine const& wound_back) {
  double const fastest = r.peak_per_rate_mm3_s * r.rate_asked;
  double const gained = std::max(0.0, 1 - problem_->supply.max_flow_mm3_s / fastest);
  add_range(wound_back, -infinity, r.wound_in_mm3 + r.starved_mm3);
  Affine saved;
  saved.add(-gained, wound_back);
  add_linear(saved);
  Affine more;
  more.constant = -gained * r.wound_in_mm3 / r.volume_per_rate;
  more.add(gained / r.volume_per_rate, wound_back);
  return more;
}

template <std::size_t Width>
void Tangent<Width>::add_shares(CutResponse const& r, Affine const& in, Affine const& rate) {
  for (std::uint32_t s = r.first_share; s < r.first_share + r.shares; ++s) {
    CellShare const& share = line_->shares[s];
    if (problem_->wanted_mm3[share.cell] == 0) {
      double const price = problem_->cell_price.empty() ? 1 : problem_->cell_price[share.cell];
      add_cost(price, share, in, rate);
      continue;
    }
    Affine got;
    got.constant = share.got_mm3 - share.by_run_on * r.run_on_in_mm3 - share.by_rate * r.rate;
    got.add(share.by_run_on, in);
    got.add(share.by_rate, rate);
    Affine& cell = cells_[share.cell];
    if (cell.fits(got)) {
      cell.add(1, got);
    } else {  // a cell of very many cuts: what the oldest give is taken as it was
      cell.constant += share.got_mm3;
    }
  }
}

// Where nothing is wanted, what is got is never negative, so |got| is got: a plain cost, however
// many cuts such a cell spans.
template <std::size_t Width>
void Tangent<Width>::add_cost(double price,
                              CellShare const& share,
                              Affine const& in,
                              Affine const& rate) {
  Affine cost;
  cost.add(price * share.by_run_on, in);
  cost.add(price * share.by_rate, rate);
  add_linear(cost);
}

template <std::size_t Width>
void Tangent<Width>::add_linear(Affine const& cost) {
  if (cost.first == Affine::constant_only) return;
  program_.linear.resize(std::max(x_->size(), cost.first + Width), 0.0);
  for (std::size_t k = 0; k < Width; ++k) {
    if (cost.c[k] != 0) program_.linear[cost.first + k] += cost.c[k];
  }
}

template <std::size_t Width>
void Tangent<Width>::add_supply(std::size_t i, Affine const& rate, Ready& ready) {
  CutResponse const& r = line_->cuts[i];
  double const wound_in = r.wound_in_mm3 > left_mm3 ? r.wound_in_mm3 : 0;
  // Where the last trajectory says otherwise than the rows so far, it holds.
  if (ready.wound_back != (wound_in > 0)) {
    ready.wound_back = wound_in > 0;
    ready.value = {};
    ready.value.constant = ready.wound_back ? wound_in : r.store_in_mm3;
  }
  Affine delivered;
  delivered.constant = -r.lost_mm3;
  delivered.add(r.volume_per_rate, rate);
  if (r.wound_out_mm3 <= left_mm3) return add_fresh(i, delivered, ready);
  Affine left;  // D after the cut
  if (ready.wound_back) left = ready.value;
  left.add(-1, delivered);
  if (is_free(i)) {
    std::uint32_t const unknown = new_unknown(r.wound_out_mm3);
    Affine slack = left;
    slack.add(-1, unknown);
    add_range(slack, 0, infinity);
    Affine own;
    own.add(1, unknown);
    add_range(own, -r.store_out_mm3 - room_mm3, infinity);
    ready.value = own;
  } else {
    add_range(left, -r.store_out_mm3 - room_mm3, infinity);
    ready.value = left;
  }
  ready.wound_back = true;
  if (problem_->cuts[i].run_out_after) {
    ready.value = {};
    ready.value.constant = r.wound_out_mm3;
  }
}

// What there is at most to draw on in a cut that has nothing left wound back at its end, beyond
// what `ready` holds, mm³; bounds the cut's rate where that says it better.
template <std::size_t Width>
double Tangent<Width>::fed_fresh(std::size_t i, bool last_of_it) {
  CutResponse const& r = line_->cuts[i];
  double const q = problem_->supply.max_flow_mm3_s, b = problem_->supply.burst_mm3;
  if (!last_of_it) {
    high_of_[i] = fastest_fresh(r);
    return q * r.duration_s - spilt(r);
  }
  double const then = std::min(b, r.store_in_mm3 + q * (r.duration_s - r.fresh_s));
  // Faster than the flow fed for long, the cut had better end where D does, unless D is next to
  // nothing of it.
  double const turned = r.volume_per_rate * r.rate - r.lost_mm3;
  bool const slow = r.last_per_rate_mm3_s * r.rate <= q || r.wound_in_mm3 < crumb * turned;
  // Without a store a slow cut stays slow: then it may end D wherever it likes. One that only
  // ends slowly is kept slow too, unless it has an empty nozzle to fill.
  bool const fills = r.run_on_in_mm3 < -crumb * q * r.duration_s;
  bool const anywhere = b == 0 && slow && (r.peak_per_rate_mm3_s * r.rate <= q || !fills);
  if (anywhere) high_of_[i] = fastest_fresh(r);
  return then + (slow ? q * (anywhere ? r.duration_s : r.fresh_s) : 0);
}

// B after the cut, of which `left` is what drawing leaves at most.
template <std::size_t Width>
typename Tangent<Width>::Affine Tangent<Width>::keep_store(std::size_t i, Affine left) {
  double const b = problem_->supply.burst_mm3;
  double const out_mm3 = line_->cuts[i].store_out_mm3;
  Affine store;
  if (is_free(i)) {
    std::uint32_t const unknown = new_unknown(std::clamp(out_mm3, 0.0, b));
    store.add(1, unknown);
    left.add(-1, unknown);
    add_range(left, 0, infinity);
    add_range(store, -room_mm3, b + room_mm3);
    return store;
  }
  if (out_mm3 >= b * (1 - 1e-9)) {  // full
    store.constant = b;
    return store;
  }
  add_range(left, -room_mm3, infinity);
  return left;
}

// Nothing is left wound back after the cut.
template <std::size_t Width>
void Tangent<Width>::add_fresh(std::size_t i, Affine const& delivered, Ready& ready) {
  CutResponse const& r = line_->cuts[i];
  double const b = problem_->supply.burst_mm3;
  bool const last_of_it = ready.wound_back;
  Affine const wound_back = ready.value;
  Affine left = ready.value;
  left.constant += fed_fresh(i, last_of_it);
  left.add(-1, delivered);
  ready.wound_back = false;
  ready.value = {};
  if (b > 0) {
    ready.value = keep_store(i, left);
  } else if (last_of_it && problem_->cuts[i].fixed) {
    // What it turns faster than is fed for long has to be wound back before.
    if (!starves(r))
      add_range(wound_back, std::min(r.fast_mm3, r.wound_in_mm3) - room_mm3, infinity);
  } else if (last_of_it) {
    add_range(left, -room_mm3, infinity);
  }
  if (problem_->cuts[i].run_out_after) {
    ready.value = {};
    ready.value.constant = b;
  }
}

// The greatest rate at which nothing starves at any moment of a cut with nothing wound back.
template <std::size_t Width>
double Tangent<Width>::fastest_fresh(CutResponse const& r) const {
  double const most = problem_->supply.fastest_mm3_s();
  return r.peak_per_rate_mm3_s > 0 ? most / r.peak_per_rate_mm3_s : infinity;
}

// What a full store could not take in a cut that begins slowly and then draws on it.
template <std::size_t Width>
double Tangent<Width>::spilt(CutResponse const& r) const {
  melt::SupplyLimits const& supply = problem_->supply;
  bool const full_after = r.store_out_mm3 >= supply.burst_mm3 * (1 - 1e-9);
  if (full_after || r.rate < 0) return 0;
  double const drawn = r.volume_per_rate * r.rate - r.lost_mm3;
  return std::max(0.0,
                  r.store_in_mm3 + supply.max_flow_mm3_s * r.duration_s - drawn - r.store_out_mm3);
}

template <std::size_t Width>
void Tangent<Width>::add_cells() {
  for (std::size_t c = 0; c < cells_.size(); ++c) {
    if (cells_[c].first == Affine::constant_only) continue;
    program_.terms.push_back({cells_[c].row(), problem_->wanted_mm3[c] - cells_[c].constant});
    if (lumps(*problem_, c)) add_lump(cells_[c], problem_->lump_from * problem_->wanted_mm3[c]);
  }
}

// max(0, got − from) = (|got − from| + got − from) / 2
template <std::size_t Width>
void Tangent<Width>::add_lump(Affine const& cell, double from_mm3) {
  double const half = problem_->lump_price / 2;
  program_.terms.push_back({cell.row(half), half * (from_mm3 - cell.constant)});
  for (std::size_t k = 0; k < Width; ++k) {
    if (cell.c[k] != 0) program_.linear[cell.first + k] += half * cell.c[k];
  }
}

template <std::size_t Width>
void Tangent<Width>::add_junction(Affine const& before,
                                  Affine const& after,
                                  double jump,
                                  double scale) {
  if (!std::isfinite(jump)) return;
  Affine difference = after;
  difference.add(-1, before);
  add_range(difference, -jump, jump, scale);
}

template <std::size_t Width>
void Tangent<Width>::find_near() {
  constexpr double of_mean = 0.3, of_most = 0.7, of_rate = 0.4, of_jump = 0.3;
  constexpr std::size_t close = 3;
  std::size_t const n = problem_->cuts.size();
  near_run_on_.assign(n, limits_ == Limits::all);
  near_rate_.assign(n, limits_ == Limits::all);
  near_jump_.assign(n, limits_ == Limits::all);
  if (limits_ == Limits::all) return;
  double sum = 0;
  for (CutResponse const& r : line_->cuts) sum += std::max(0.0, r.run_on_out_mm3);
  double const low = of_mean * sum / static_cast<double>(n);
  double const high = of_most * problem_->most_run_on_mm3;
  for (std::size_t i = 0; i < n; ++i) {
    double const run_on = line_->cuts[i].run_on_out_mm3;
    bool const near_bound = run_on < low || run_on > high;
    bool const jumps = i + 1 < n && std::abs(line_->cuts[i + 1].rate - line_->cuts[i].rate) >
                                        of_jump * problem_->cuts[i].jump_to_next;
    double const rate = line_->cuts[i].rate;
    bool const extreme =
        rate > of_rate * greatest_rate(i) || rate < of_rate * problem_->cuts[i].rate_low;
    for (std::size_t k = i < close ? 0 : i - close; k < std::min(n, i + close + 1); ++k) {
      if (near_bound) near_run_on_[k] = 1;
      if (extreme) near_rate_[k] = 1;
      if (jumps) near_jump_[k] = 1;
    }
  }
}

template <std::size_t Width>
bool Tangent<Width>::breaks_left_out(std::vector<double> const& x) const {
  constexpr double slack = 1e-4;
  double before = 0;
  for (std::size_t i = 0; i < rate_of_.size(); ++i) {
    double const rate = rate_of_[i].at(x);
    bool const bounded = unknown_of_[i] != Affine::constant_only;
    double const run_on = bounded ? x[unknown_of_[i]] : 0;
    if (bounded && !near_run_on_[i] && (run_on < 0 || run_on > problem_->most_run_on_mm3))
      return true;
    if (bounded && !near_rate_[i] && (rate < problem_->cuts[i].rate_low || rate > greatest_rate(i)))
      return true;
    if (i > 0 && !near_jump_[i - 1] &&
        std::abs(rate - before) > (1 + slack) * problem_->cuts[i - 1].jump_to_next)
      return true;
    before = rate;
  }
  return false;
}

template <std::size_t Width>
void Tangent<Width>::add_limits() {
  find_near();
  std::vector<double> const most = greatest_rates(*problem_, *line_, [&](std::size_t i) {
    return std::min(problem_->cuts[i].rate_high, high_of_[i]);
  });
  FastestRise rise(*problem_);
  for (std::size_t i = 0; i < problem_->cuts.size(); ++i) {
    Cut const& cut = problem_->cuts[i];
    CutResponse const& response = line_->cuts[i];
    double const scale = std::max(response.by_rate, 1e-9);  // rates → mm³
    double const least =
        std::min(rise.after(cut, response, most[i]), response.run_on_out_mm3) - room_mm3;
    if (is_free(i)) {
      if (near_rate_[i]) add_range(rate_of_[i], cut.rate_low, greatest_rate(i), scale);
      Affine own;
      own.add(1, unknown_of_[i]);
      double const floor = floors_ * least;
      if (near_run_on_[i])
        add_range(own, least < -2 * room_mm3 ? floor : 0, problem_->most_run_on_mm3);
    }
    if (i + 1 < problem_->cuts.size() && near_jump_[i]) {
      double const joint = std::min(scale, std::max(line_->cuts[i + 1].by_rate, 1e-9));
      add_junction(rate_of_[i], rate_of_[i + 1], cut.jump_to_next, joint);
    }
  }
  add_outer_junctions();
}

template <std::size_t Width>
void Tangent<Width>::add_outer_junctions() {
  if (problem_->cuts.empty()) return;
  Affine outer;
  if (problem_->rate_before) {
    outer.constant = *problem_->rate_before;
    double const scale = std::max(line_->cuts.front().by_rate, 1e-9);
    add_junction(outer, rate_of_.front(), problem_->jump_before, scale);
  }
  if (problem_->rate_after) {
    outer.constant = *problem_->rate_after;
    double const scale = std::max(line_->cuts.back().by_rate, 1e-9);
    add_junction(rate_of_.back(), outer, problem_->jump_after, scale);
  }
}

template <std::size_t Width>
void Tangent<Width>::add_calm() {
  for (std::size_t i = 0; i + 1 < problem_->cuts.size(); ++i) {
    if (!is_calmed(*problem_, i)) continue;
    double const volume =
        std::min(line_->cuts[i].volume_per_rate, line_->cuts[i + 1].volume_per_rate);
    Affine change;
    change.add(problem_->calm * volume, rate_of_[i + 1]);
    change.add(-problem_->calm * volume, rate_of_[i]);
    if (change.first == Affine::constant_only) continue;
    program_.terms.push_back({change.row(), -change.constant});
  }
}

template <std::size_t Width>
void Tangent<Width>::read(std::vector<double> const& x, std::vector<double>& rates) const {
  rates.resize(problem_->cuts.size());
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem_->cuts[i];
    rates[i] = cut.fixed ? cut.rate : std::clamp(rate_of_[i].at(x), cut.rate_low, cut.rate_high);
  }
}

}  // namespace meltlag::schedule
