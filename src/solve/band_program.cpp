// SPDX-License-Identifier: MIT
#include "meltlag/solve/band_program.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <memory>
#include <type_traits>
#include <utility>

#include "band_state.hpp"
#include "lanes.hpp"

namespace meltlag::solve {
namespace {

constexpr double to_boundary = 0.995;  // share of the way to the nearest bound that a step may go

// How many of a row's coefficients count: those after them are 0. Most rows are far narrower than
// the widest, and every step passes all of them several times.
template <std::size_t Width>
std::size_t used(BasicRow<Width> const& row) {
  std::size_t n = Width;
  while (n > 0 && row.coefficients[n - 1] == 0) --n;
  return n;
}

double product(double const* coefficients, std::size_t used, double const* x) {
  double sum = 0;
  for (std::size_t i = 0; i < used; ++i) sum += coefficients[i] * x[i];
  return sum;
}

template <std::size_t Width>
double value(BasicRow<Width> const& row, std::vector<double> const& x) {
  return product(row.coefficients.data(), used(row), x.data() + row.first);
}

template <std::size_t Width>
double objective_of(BasicBandProgram<Width> const& program, std::vector<double> const& x) {
  double sum = 0;
  for (auto const& term : program.terms) sum += std::abs(value(term.row, x) - term.target);
  for (std::size_t i = 0; i < program.linear.size(); ++i) sum += program.linear[i] * x[i];
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    auto const& h = program.curvature[i];
    sum += h[0] * x[i] * x[i] / 2;
    for (std::size_t k = 1; k < Width && i + k < x.size(); ++k) sum += h[k] * x[i] * x[i + k];
  }
  return sum;
}

}  // namespace

template <std::size_t Width>
void BasicBandProgram<Width>::clear() {
  unknowns = 0;
  terms.clear();
  ranges.clear();
  linear.clear();
  curvature.clear();
}

template <std::size_t Width>
template <class Rows>
void BandState<Width>::PackedRows::pack(Rows const& rows) {
  begin.fill(0);
  for (auto const& with_row : rows) ++begin[used(with_row.row) + 1];
  std::array<std::size_t, Width + 1> place{}, coefficient{};
  for (std::size_t n = 0, total = 0; n <= Width; ++n) {
    coefficient[n] = total;
    total += n * begin[n + 1];
    begin[n + 1] += begin[n];
    place[n] = begin[n];
    if (n == Width) coefficients.resize(total);
  }
  order.resize(rows.size());
  first.resize(rows.size());
  for (std::size_t k = 0; k < rows.size(); ++k) {
    auto const& row = rows[k].row;
    std::size_t const n = used(row), at = place[n]++;
    order[at] = static_cast<std::uint32_t>(k);
    first[at] = row.first;
    std::copy_n(row.coefficients.data(), n, coefficients.data() + coefficient[n]);
    coefficient[n] += n;
  }
}

template <std::size_t Width>
template <class Visit>
void BandState<Width>::PackedRows::visit_lengths(Visit&& visit) const {
  double const* a = coefficients.data();
  auto const visit_one = [&]<std::size_t n>(std::integral_constant<std::size_t, n> length) {
    visit(length, begin[n], begin[n + 1], a);
    a += n * (begin[n + 1] - begin[n]);
  };
  [&]<std::size_t... n>(std::index_sequence<n...>) {
    (visit_one(std::integral_constant<std::size_t, n>{}), ...);
  }
  (std::make_index_sequence<Width + 1>{});
}

template <std::size_t Width>
void BandState<Width>::PackedRows::multiply(Column const& x, Column& products) const {
  visit_lengths([&](auto length, std::size_t k, std::size_t end, double const* a) {
    for (; k < end; ++k, a += length) {
      double const* const from = x.data() + first[k];
      double sum = 0;
      for (std::size_t i = 0; i < length; ++i) sum += a[i] * from[i];
      products[k] = sum;
    }
  });
}

// Rows one after the other mostly add to the same places, and each has to wait for the one before:
// two rows from far apart take turns.
template <std::size_t Width>
template <class Body>
void BandState<Width>::PackedRows::in_two_places(Body&& body) const {
  visit_lengths([&](auto length, std::size_t k, std::size_t end, double const* a) {
    std::size_t const half = (end - k) / 2;
    for (std::size_t const middle = k + half; k < middle; ++k, a += length) {
      body(length, k, a);
      body(length, k + half, a + half * length);
    }
    if (k + half < end) body(length, k + half, a + half * length);
  });
}

template <std::size_t Width>
void BandState<Width>::PackedRows::subtract(Column const& amounts, Column& from) const {
  in_two_places([&](auto length, std::size_t k, double const* a) {
    double* const to = from.data() + first[k];
    for (std::size_t i = 0; i < length; ++i) to[i] -= amounts[k] * a[i];
  });
}

// weight · a aᵀ onto the band, row by row.
template <std::size_t Width>
void BandState<Width>::PackedRows::add_squares(Column const& weights,
                                               std::vector<std::array<double, Width>>& band) const {
  in_two_places([&](auto length, std::size_t k, double const* a) {
    auto* const rows = &band[first[k]];
    for (std::size_t i = 0; i < length; ++i) {
      double const w = weights[k] * a[i];
      for (std::size_t j = 0; i + j < length; ++j) rows[i][j] += w * a[i + j];
    }
  });
}

template <std::size_t Width>
void BandState<Width>::Terms::resize(std::size_t n) {
  for (Column* c : {&p,
                    &q,
                    &lambda,
                    &off,
                    &weight,
                    &shift,
                    &amount,
                    &rp,
                    &rq,
                    &per_p,
                    &per_q,
                    &move,
                    &d_p,
                    &d_q,
                    &d_lambda})
    c->resize(n);
}

template <std::size_t Width>
void BandState<Width>::Bounds::resize(std::size_t n) {
  for (Column* c : {&at, &exists, &s, &y, &r, &per, &gap, &d_s, &d_y}) c->resize(n);
}

template <std::size_t Width>
void BandState<Width>::Ranges::resize(std::size_t n) {
  for (Column* c : {&value, &weight, &amount, &move}) c->resize(n);
}

template <std::size_t Width>
void BandState<Width>::start_terms(Program const& program, double slack, Column const& x) {
  std::size_t const n = program.terms.size();
  term_rows_.pack(program.terms);
  terms_.resize(n);
  term_multiplier_.resize(n);
  for (std::size_t k = 0; k < n; ++k) {
    auto const& term = program.terms[term_rows_.order[k]];
    double const off = terms_.off[k] = value(term.row, x) - term.target;
    terms_.p[k] = std::max(off, 0.0) + slack;
    terms_.q[k] = std::max(-off, 0.0) + slack;
    terms_.lambda[k] = 0;
  }
  complementarity_pairs_ = 2 * n;
}

template <std::size_t Width>
void BandState<Width>::start_ranges(Program const& program, double slack, Column const& x) {
  std::size_t const n = program.ranges.size();
  range_rows_.pack(program.ranges);
  ranges_.resize(n);
  range_multiplier_.resize(n);
  for (std::size_t j = 0; j < n; ++j)
    ranges_.value[j] = value(program.ranges[range_rows_.order[j]].row, x);
  visit_sides([&](Bounds& b, double sign) {
    b.resize(n);
    for (std::size_t j = 0; j < n; ++j) {
      auto const& range = program.ranges[range_rows_.order[j]];
      double const at = sign > 0 ? range.low : range.high;
      bool const exists = std::isfinite(at);
      b.exists[j] = exists ? 1 : 0;
      b.at[j] = exists ? at : 0;
      b.s[j] = exists ? std::max(sign * (ranges_.value[j] - at), slack) : 1;
      b.y[j] = exists ? slack / b.s[j] : 0;
      if (exists) ++complementarity_pairs_;
    }
  });
}

// How far each row of the band goes, from what the program's rows touch.
template <std::size_t Width>
void BandState<Width>::find_reach(Program const& program) {
  std::vector<std::size_t> reach_of(program.unknowns + Width - 1);
  for (PackedRows const* rows : {&term_rows_, &range_rows_}) {
    rows->visit_lengths([&](auto length, std::size_t k, std::size_t end, double const*) {
      for (; k < end; ++k) {
        std::size_t* const reach = &reach_of[rows->first[k]];
        for (std::size_t i = 0; i + 1 < length; ++i)
          reach[i] = std::max<std::size_t>(reach[i], length - 1 - i);
      }
    });
  }
  for (std::size_t i = 0; i < program.curvature.size(); ++i)
    for (std::size_t k = 1; k < Width; ++k)
      if (program.curvature[i][k] != 0) reach_of[i] = std::max(reach_of[i], k);
  for (std::size_t i = 0; i + 1 < program.unknowns; ++i)
    reach_of[i + 1] =
        std::max(reach_of[i + 1], reach_of[i] - std::min<std::size_t>(reach_of[i], 1));
  block_reach_.clear();
  for (std::size_t begin = 0; begin < program.unknowns; begin += block_size) {
    auto const first = reach_of.begin() + static_cast<std::ptrdiff_t>(begin);
    std::size_t const size = std::min(block_size, program.unknowns - begin);
    block_reach_.push_back(*std::max_element(first, first + static_cast<std::ptrdiff_t>(size)));
  }
}

template <std::size_t Width>
void BandState<Width>::start(Program const& program,
                             BandSettings const& settings,
                             std::vector<double> const& x) {
  start_terms(program, settings.slack_scale, x);
  start_ranges(program, settings.slack_scale, x);
  find_reach(program);
  per_diagonal_.assign(program.unknowns, 0.0);
  band_.assign(program.unknowns + Width - 1, {});
  for (auto* v : {&rhs_, &dx_}) v->assign(program.unknowns + Width - 1, 0.0);
}

// −(H x + g) onto the right-hand side, which begins there.
template <std::size_t Width>
void BandState<Width>::add_objective(Program const& program, std::vector<double> const& x) {
  std::size_t const n = program.unknowns;
  std::fill(rhs_.begin(), rhs_.end(), 0.0);
  for (std::size_t i = 0; i < program.linear.size(); ++i) rhs_[i] -= program.linear[i];
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    auto const& h = program.curvature[i];
    rhs_[i] -= h[0] * x[i];
    for (std::size_t k = 1; k < Width && i + k < n; ++k) {
      rhs_[i] -= h[k] * x[i + k];
      rhs_[i + k] -= h[k] * x[i];
    }
  }
}

// Sets up the banded matrix from the current weights, and the right-hand side of the predictor,
// which aims at complementarity 0: there all but the rows' own values cancels out.
template <std::size_t Width>
void BandState<Width>::assemble(Program const& program, Column const& x) {
  std::fill(band_.begin(), band_.end(), std::array<double, Width>{});
  add_objective(program, x);
  for (std::size_t i = 0; i < program.curvature.size(); ++i) {
    for (std::size_t k = 0; k < Width; ++k) band_[i][k] += program.curvature[i][k];
  }
  weigh_terms();
  term_rows_.add_squares(terms_.weight, band_);
  term_rows_.subtract(terms_.amount, rhs_);
  weigh_ranges();
  range_rows_.add_squares(ranges_.weight, band_);
  range_rows_.subtract(ranges_.amount, rhs_);
}

template <std::size_t Width>
void BandState<Width>::weigh_terms() {
  Terms& t = terms_;
  for_lanes(t.p.size(), [&]<class V>(V, std::size_t k) {
    V const p = load<V>(t.p, k), q = load<V>(t.q, k), lambda = load<V>(t.lambda, k);
    V const per_p = 1 / (1 - lambda), per_q = 1 / (1 + lambda);
    V const weight = 1 / (p * per_p + q * per_q);
    store(t.per_p, k, per_p);
    store(t.per_q, k, per_q);
    store(t.weight, k, weight);
    V const off = load<V>(t.off, k);
    store(t.shift, k, off);
    store(t.amount, k, lambda + weight * off);
  });
}

template <std::size_t Width>
void BandState<Width>::weigh_ranges() {
  for_lanes(ranges_.value.size(), [&]<class V>(V, std::size_t j) {
    V weights{}, amount{};
    visit_sides([&](Bounds& b, double sign) {
      V const off = load<V>(ranges_.value, j) - load<V>(b.at, j);
      V const s = load<V>(b.s, j), y = load<V>(b.y, j);
      V const per = 1 / s, weight = y * per;
      store(b.per, j, per);
      store(b.gap, j, sign * off - s);
      weights += weight;
      amount += weight * off - sign * y;
    });
    store(ranges_.weight, j, weights);
    store(ranges_.amount, j, amount);
  });
}

// Calls visit(reach, as a constant; first unknown; end) block by block: loops of a fixed length are
// far faster than ones that end a little further or sooner with each unknown.
template <std::size_t Width>
template <class Visit>
bool BandState<Width>::visit_block(std::size_t block, Visit&& visit) const {
  std::size_t const begin = block * block_size;
  std::size_t const end = std::min(begin + block_size, per_diagonal_.size());
  constexpr std::size_t narrow = std::min<std::size_t>(2, Width - 1);
  constexpr std::size_t middle = std::min<std::size_t>(4, Width - 1);
  using Narrow = std::integral_constant<std::size_t, narrow>;
  using Middle = std::integral_constant<std::size_t, middle>;
  using Whole = std::integral_constant<std::size_t, Width - 1>;
  std::size_t const reach = block_reach_[block];
  if (reach <= narrow) return visit(Narrow{}, begin, end);
  if (reach <= middle) return visit(Middle{}, begin, end);
  return visit(Whole{}, begin, end);
}

// D·L' in place: the diagonal's reciprocal in per_diagonal_, L' beside it.
template <std::size_t Width>
bool BandState<Width>::factor() {
  constexpr double tiny = 1e-13;
  for (std::size_t i = 0; i < per_diagonal_.size(); ++i)
    per_diagonal_[i] = tiny * (std::abs(band_[i][0]) + tiny);
  auto const factor_block = [&](auto reach, std::size_t i, std::size_t end) {
    for (; i < end; ++i) {
      auto& row = band_[i];
      double const floor = per_diagonal_[i];
      if (!(row[0] > floor)) {
        if (!std::isfinite(row[0])) return false;
        row[0] = floor;
      }
      double const per = per_diagonal_[i] = 1 / row[0];
      for (std::size_t j = 1; j <= reach; ++j) {
        double const l = row[j] * per;
        auto& below = band_[i + j];
        for (std::size_t k = 0; j + k <= reach; ++k) below[k] -= l * row[j + k];
      }
      for (std::size_t j = 1; j <= reach; ++j) row[j] *= per;
    }
    return true;
  };
  for (std::size_t block = 0; block < block_reach_.size(); ++block)
    if (!visit_block(block, factor_block)) return false;
  return true;
}

// Each unknown waits for the one before it: those on the way stay at hand, in registers.
template <std::size_t Width>
void BandState<Width>::back_substitute() {
  std::size_t const n = per_diagonal_.size();
  std::copy(rhs_.begin(), rhs_.end(), dx_.begin());
  auto const forward = [&](auto reach, std::size_t i, std::size_t end) {
    std::array<double, reach + 1> at;
    std::copy_n(&dx_[i], reach + 1, at.begin());
    for (; i < end; ++i) {
      auto const& row = band_[i];
      double const v = at[0];
      dx_[i] = v * per_diagonal_[i];
      for (std::size_t k = 0; k < reach; ++k) at[k] = at[k + 1] - row[k + 1] * v;
      at[reach] = i + reach + 1 < dx_.size() ? dx_[i + reach + 1] : 0;
    }
    std::copy_n(at.begin(), reach, &dx_[end]);
    return true;
  };
  for (std::size_t block = 0; block < block_reach_.size(); ++block) visit_block(block, forward);
  std::fill(dx_.begin() + static_cast<std::ptrdiff_t>(n), dx_.end(), 0.0);
  auto const backward = [&](auto reach, std::size_t begin, std::size_t i) {
    std::array<double, reach> at;
    std::copy_n(&dx_[i], reach, at.begin());
    while (i-- > begin) {
      auto const& row = band_[i];
      double v = dx_[i];
      // The nearest last: it is known last.
      for (std::size_t k = reach; k >= 1; --k) v -= row[k] * at[k - 1];
      for (std::size_t k = reach - 1; k >= 1; --k) at[k] = at[k - 1];
      at[0] = dx_[i] = v;
    }
    return true;
  };
  for (std::size_t block = block_reach_.size(); block-- > 0;) visit_block(block, backward);
}

// The right-hand side for the wanted mean product `mu` of the complementarity equations, with the
// predictor's second-order products.
template <std::size_t Width>
void BandState<Width>::correct(Program const& program, Column const& x, double mu) {
  add_objective(program, x);
  Terms& t = terms_;
  for_lanes(t.p.size(), [&]<class V>(V, std::size_t k) {
    V const p = load<V>(t.p, k), q = load<V>(t.q, k), lambda = load<V>(t.lambda, k);
    V const d_lambda = load<V>(t.d_lambda, k);
    V const rp = mu - p * (1 - lambda) + load<V>(t.d_p, k) * d_lambda;
    V const rq = mu - q * (1 + lambda) - load<V>(t.d_q, k) * d_lambda;
    V const shift = load<V>(t.off, k) - p + q - rp * load<V>(t.per_p, k) + rq * load<V>(t.per_q, k);
    store(t.rp, k, rp);
    store(t.rq, k, rq);
    store(t.shift, k, shift);
    store(t.amount, k, lambda + load<V>(t.weight, k) * shift);
  });
  term_rows_.subtract(t.amount, rhs_);
  correct_ranges(mu);
  range_rows_.subtract(ranges_.amount, rhs_);
}

template <std::size_t Width>
void BandState<Width>::correct_ranges(double mu) {
  for_lanes(ranges_.value.size(), [&]<class V>(V, std::size_t j) {
    V amount = load<V>(high_.y, j) - load<V>(low_.y, j);
    visit_sides([&](Bounds& b, double sign) {
      V const y = load<V>(b.y, j);
      V const r =
          mu * load<V>(b.exists, j) - load<V>(b.s, j) * y - load<V>(b.d_s, j) * load<V>(b.d_y, j);
      store(b.r, j, r);
      amount -= sign * (r - y * load<V>(b.gap, j)) * load<V>(b.per, j);
    });
    store(ranges_.amount, j, amount);
  });
}

// What goes into a direction's step lengths: by how much a step of 1 would pass the nearest bounds,
// and the complementarity sum's parts.
template <std::size_t Width>
struct BandState<Width>::DirectionSums {
  LaneMax primal, dual;
  LaneSum a, b, c, d;
};

template <std::size_t Width>
template <typename BandState<Width>::Aim aim>
void BandState<Width>::move_terms(DirectionSums& sums) {
  Terms& t = terms_;
  term_rows_.multiply(dx_, t.move);
  for_lanes(t.p.size(), [&]<class V>(V, std::size_t k) {
    V const p = load<V>(t.p, k), q = load<V>(t.q, k), lambda = load<V>(t.lambda, k);
    V const up = 1 - lambda, down = 1 + lambda;
    V const per_p = load<V>(t.per_p, k), per_q = load<V>(t.per_q, k);
    V const dl = load<V>(t.weight, k) * (load<V>(t.move, k) + load<V>(t.shift, k));
    V const by_p = dl * per_p, by_q = dl * per_q;
    V d_p, d_q;
    if constexpr (aim == Aim::predictor) {
      sums.primal.add(1 - by_p);
      sums.primal.add(1 + by_q);
      d_p = p * (by_p - 1);
      d_q = -q * (by_q + 1);
    } else {
      d_p = (load<V>(t.rp, k) + p * dl) * per_p;
      d_q = (load<V>(t.rq, k) - q * dl) * per_q;
      sums.primal.add(-d_p / p);
      sums.primal.add(-d_q / q);
    }
    sums.dual.add(by_p);
    sums.dual.add(-by_q);
    sums.a.add(p * up + q * down);
    sums.b.add(d_p * up + d_q * down);
    sums.c.add((q - p) * dl);
    sums.d.add((d_q - d_p) * dl);
    store(t.d_lambda, k, dl);
    store(t.d_p, k, d_p);
    store(t.d_q, k, d_q);
  });
}

template <std::size_t Width>
template <typename BandState<Width>::Aim aim>
void BandState<Width>::move_ranges(DirectionSums& sums) {
  range_rows_.multiply(dx_, ranges_.move);
  for_lanes(ranges_.value.size(), [&]<class V>(V, std::size_t j) {
    visit_sides([&](Bounds& b, double sign) {
      V const s = load<V>(b.s, j), y = load<V>(b.y, j), exists = load<V>(b.exists, j);
      V const per = load<V>(b.per, j);
      V const d_s = exists * (load<V>(b.gap, j) + sign * load<V>(ranges_.move, j));
      V const by_s = d_s * per;
      V d_y;
      if constexpr (aim == Aim::predictor) {
        d_y = -y * (1 + by_s);
        sums.dual.add(exists + by_s);
      } else {
        d_y = (load<V>(b.r, j) - y * d_s) * per;
        sums.dual.add(-d_y / (y + (1 - exists)));
      }
      sums.primal.add(-by_s);
      sums.a.add(s * y);
      sums.b.add(d_s * y);
      sums.c.add(s * d_y);
      sums.d.add(d_s * d_y);
      store(b.d_s, j, d_s);
      store(b.d_y, j, d_y);
    });
  });
}

template <std::size_t Width>
template <typename BandState<Width>::Aim aim>
typename BandState<Width>::Direction BandState<Width>::direction() {
  back_substitute();
  DirectionSums sums;
  move_terms<aim>(sums);
  move_ranges<aim>(sums);
  auto const length = [](LaneMax const& passed) {
    return std::min(1.0, to_boundary / std::max(passed.total(), to_boundary));
  };
  return {{length(sums.primal), length(sums.dual)},
          sums.a.total(),
          sums.b.total(),
          sums.c.total(),
          sums.d.total()};
}

template <std::size_t Width>
double BandState<Width>::complementarity() const {
  LaneSum sum;
  for_lanes(terms_.p.size(), [&]<class V>(V, std::size_t k) {
    V const lambda = load<V>(terms_.lambda, k);
    sum.add(load<V>(terms_.p, k) * (1 - lambda) + load<V>(terms_.q, k) * (1 + lambda));
  });
  visit_sides([&](Bounds const& b, double) {
    for_lanes(b.s.size(),
              [&]<class V>(V, std::size_t j) { sum.add(load<V>(b.s, j) * load<V>(b.y, j)); });
  });
  return sum.total();
}

namespace {

void go(double length, std::vector<double> const& direction, std::vector<double>& from) {
  for_lanes(from.size(), [&]<class V>(V, std::size_t i) {
    store(from, i, load<V>(from, i) + length * load<V>(direction, i));
  });
}

}  // namespace

template <std::size_t Width>
void BandState<Width>::advance(StepLengths step, Column& x) {
  go(step.primal, dx_, x);
  go(step.primal, terms_.d_p, terms_.p);
  go(step.primal, terms_.d_q, terms_.q);
  go(step.primal, terms_.move, terms_.off);
  go(step.dual, terms_.d_lambda, terms_.lambda);
  go(step.primal, ranges_.move, ranges_.value);
  visit_sides([&](Bounds& b, double) {
    go(step.primal, b.d_s, b.s);
    go(step.dual, b.d_y, b.y);
  });
}

template <std::size_t Width>
double BandState<Width>::worst_residual() const {
  LaneMax worst;
  visit_sides([&](Bounds const& b, double sign) {
    for_lanes(b.at.size(), [&]<class V>(V, std::size_t j) {
      worst.add(sign * load<V>(b.exists, j) * (load<V>(b.at, j) - load<V>(ranges_.value, j)));
    });
  });
  return worst.total();
}

// One predictor and one corrector step. False where there is no way on.
template <std::size_t Width>
bool BandState<Width>::iterate(Program const& program, Column& x, BandInfo& info, Left& left) {
  double const mu = info.gap / static_cast<double>(complementarity_pairs_);
  assemble(program, x);
  if (!factor()) return false;
  Direction const predictor = direction<Aim::predictor>();
  double const ratio = predictor.gap(predictor.step) / info.gap;
  correct(program, x, mu * ratio * ratio * ratio);
  Direction const corrector = direction<Aim::corrector>();
  StepLengths step = corrector.step;
  bool const curved = !program.curvature.empty();
  if (curved) step.primal = step.dual = std::min(step.primal, step.dual);
  if (std::max(step.primal, step.dual) < 1e-9) return false;
  advance(step, x);
  info.gap = corrector.gap(step);
  left.primal *= 1 - step.primal;
  left.dual *= 1 - step.dual;
  return true;
}

// Into the program's order of rows.
template <std::size_t Width>
void BandState<Width>::take_multipliers() {
  for (std::size_t k = 0; k < term_multiplier_.size(); ++k)
    term_multiplier_[term_rows_.order[k]] = terms_.lambda[k];
  for (std::size_t j = 0; j < range_multiplier_.size(); ++j)
    range_multiplier_[range_rows_.order[j]] = high_.y[j] - low_.y[j];
}

template <std::size_t Width>
BandInfo BandState<Width>::solve(Program const& program,
                                 BandSettings const& settings,
                                 std::vector<double>& x) {
  assert(x.size() == program.unknowns);
  BandInfo info;
  Left left;
  start(program, settings, x);
  info.gap = complementarity();
  for (; info.steps < settings.most_steps; ++info.steps) {
    info.residual = worst_residual();
    if (info.gap <= settings.gap_tolerance * settings.scale &&
        info.residual <= settings.residual_tolerance * settings.scale &&
        std::max(left.primal, left.dual) <= settings.start_residual_left) {
      info.status = BandStatus::solved;
      break;
    }
    info.status = BandStatus::step_limit;
    if (!iterate(program, x, info, left)) {
      info.status = BandStatus::stalled;
      break;
    }
  }
  take_multipliers();
  info.objective = objective_of(program, x);
  return info;
}

template <std::size_t Width>
BasicBandSolver<Width>::BasicBandSolver() : state_(std::make_unique<BandState<Width>>()) {}

template <std::size_t Width>
BasicBandSolver<Width>::BasicBandSolver(BasicBandSolver&&) noexcept = default;

template <std::size_t Width>
BasicBandSolver<Width>& BasicBandSolver<Width>::operator=(BasicBandSolver&&) noexcept = default;

template <std::size_t Width>
BasicBandSolver<Width>::~BasicBandSolver() = default;

template <std::size_t Width>
BandInfo BasicBandSolver<Width>::solve(Program const& program,
                                       BandSettings const& settings,
                                       std::vector<double>& x) {
  return state_->solve(program, settings, x);
}

template <std::size_t Width>
std::vector<double> const& BasicBandSolver<Width>::term_multipliers() const {
  return state_->term_multipliers();
}

template <std::size_t Width>
std::vector<double> const& BasicBandSolver<Width>::range_multipliers() const {
  return state_->range_multipliers();
}

template struct BasicBandProgram<row_width>;
template struct BasicBandProgram<wide_row_width>;
template struct BasicBandProgram<wider_row_width>;
template struct BasicBandProgram<widest_row_width>;
template class BasicBandSolver<row_width>;
template class BasicBandSolver<wide_row_width>;
template class BasicBandSolver<wider_row_width>;
template class BasicBandSolver<widest_row_width>;

}  // namespace meltlag::solve
