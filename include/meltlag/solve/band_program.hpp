// SPDX-License-Identifier: MIT
// Sums of absolute values under two-sided bounds, where every row touches at most `Width`
// neighbouring unknowns: solved by a primal–dual interior-point method with banded Newton steps, so
// that time and memory are linear in the number of rows.
//
//   minimise    Σ_k |a_k·x − d_k|  +  ½ xᵀH x + g·x
//   subject to  lo_j ≤ b_j·x ≤ hi_j
//
// H is banded alike and positive semidefinite. |a·x − d| is split into p + q with a·x − d = p − q
// and p, q ≥ 0; all slacks are eliminated row by row, what remains is (H + Σ weight·a aᵀ) dx = rhs.
// Predictor–corrector as in Mehrotra, SIAM J. Optim. 2 (1992) 575–601 (from memory).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

namespace meltlag::solve {

// Widths that there are solvers for: one unknown a cut, two, two with rows over four cuts, and
// four.
inline constexpr std::size_t row_width = 3;
inline constexpr std::size_t wide_row_width = 5;
inline constexpr std::size_t wider_row_width = 7;
inline constexpr std::size_t widest_row_width = 12;

// coefficients · (x[first], x[first+1], …). first + Width may pass the end of x when the
// coefficients there are 0.
template <std::size_t Width>
struct BasicRow {
  std::uint32_t first = 0;
  std::array<double, Width> coefficients{};
};

// |row·x − target|
template <std::size_t Width>
struct BasicTerm {
  BasicRow<Width> row;
  double target = 0;
};

// low ≤ row·x ≤ high; either may be infinite, low < high.
template <std::size_t Width>
struct BasicRange {
  BasicRow<Width> row;
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
};

template <std::size_t Width>
struct BasicBandProgram {
  std::size_t unknowns = 0;
  std::vector<BasicTerm<Width>> terms;
  std::vector<BasicRange<Width>> ranges;
  std::vector<double> linear;                        // g; empty = 0
  std::vector<std::array<double, Width>> curvature;  // H[i][i], H[i][i+1], …; empty = 0

  void clear();
};

using Row = BasicRow<row_width>;
using Term = BasicTerm<row_width>;
using Range = BasicRange<row_width>;
using BandProgram = BasicBandProgram<row_width>;

struct BandSettings {
  double gap_tolerance = 1e-4;        // duality gap ≤ gap_tolerance · scale
  double residual_tolerance = 1e-7;   // every row's residual ≤ residual_tolerance · scale
  double start_residual_left = 1e-4;  // share of the start's primal and dual residuals ≤ this
  double scale = 1;                   // magnitude of the objective that matters, in the terms' unit
  double slack_scale = 1;             // typical size of a slack at the start, same unit
  int most_steps = 100;
};

enum class BandStatus : std::uint8_t {
  solved,
  step_limit,  // best iterate so far
  stalled,     // step lengths vanished: infeasible or numerically at its end
};

struct BandInfo {
  BandStatus status = BandStatus::stalled;
  int steps = 0;
  double objective = 0;  // of the x returned
  double gap = 0;        // complementarity sum at the end
  double residual = 0;   // greatest row residual
};

// Keeps its memory from one call to the next.
template <std::size_t Width>
class BasicBandSolver {
 public:
  using Program = BasicBandProgram<Width>;
  // `x` holds the start (any) and receives the result.
  BandInfo solve(Program const& program, BandSettings const& settings, std::vector<double>& x);

  // Multipliers of the terms in −1 … 1 and of the ranges (high − low) after solve: sensitivities of
  // the objective, d objective / d target = −term multiplier.
  [[nodiscard]] std::vector<double> const& term_multipliers() const { return term_multiplier_; }
  [[nodiscard]] std::vector<double> const& range_multipliers() const { return range_multiplier_; }

 private:
  using Column = std::vector<double>;  // a number for each row

  // Rows without the coefficients that are 0, those of one length one after the other: every step
  // passes them all several times.
  struct PackedRows {
    std::vector<std::uint32_t> order;  // the program's row that stands here
    std::vector<std::uint32_t> first;
    std::vector<double> coefficients;
    std::array<std::size_t, Width + 2> begin{};  // of the rows with so many coefficients

    template <class Rows>
    void pack(Rows const& rows);
    // Calls visit(number of coefficients, as a constant; first row; end; coefficients).
    template <class Visit>
    void visit_lengths(Visit&& visit) const;
    void multiply(Column const& x, Column& products) const;
    void subtract(Column const& amounts, Column& from) const;
    void add_squares(Column const& weights, std::vector<std::array<double, Width>>& band) const;
  };
  struct Terms {
    Column p, q;           // positive and negative part
    Column lambda;         // multiplier
    Column off;            // row·x − target
    Column weight, shift;  // of the eliminated row
    Column amount;         // on the right-hand side
    Column rp, rq;         // complementarity right-hand sides
    Column per_p, per_q;   // 1 / (1 ∓ multiplier)
    Column move, d_p, d_q, d_lambda;
    void resize(std::size_t n);
  };
  // One side of the ranges: sign · (row·x − at) = s ≥ 0; sign is 1 for the low side, −1 for the
  // high one.
  struct Bounds {
    Column at;      // 0 where there is none
    Column exists;  // 1, or 0
    Column s, y;    // slack and multiplier
    Column r;       // complementarity right-hand side
    Column per;     // 1 / slack
    Column gap;     // by how much the slack misses the row
    Column d_s, d_y;
    void resize(std::size_t n);
  };
  struct Ranges {
    Column value;  // row·x
    Column weight, amount, move;
    void resize(std::size_t n);
  };
  struct StepLengths {
    double primal, dual;
  };
  // How far one may go, and the complementarity sum along the way: a + b·primal + c·dual +
  // d·primal·dual.
  struct Direction {
    StepLengths step;
    double a, b, c, d;
    [[nodiscard]] double gap(StepLengths const& to) const {
      return a + b * to.primal + c * to.dual + d * to.primal * to.dual;
    }
  };
  struct DirectionSums;
  enum class Aim : std::uint8_t { predictor, corrector };

  void start(Program const& program, BandSettings const& settings, Column const& x);
  void start_terms(Program const& program, double slack, Column const& x);
  void start_ranges(Program const& program, double slack, Column const& x);
  void find_reach(Program const& program);
  void assemble(Program const& program, Column const& x);
  void weigh_terms();
  void weigh_ranges();
  void correct(Program const& program, Column const& x, double mu);
  void correct_ranges(double mu);
  void add_objective(Program const& program, Column const& x);
  bool factor();
  void back_substitute();
  template <Aim aim>
  Direction direction();
  template <Aim aim>
  void move_terms(DirectionSums& sums);
  template <Aim aim>
  void move_ranges(DirectionSums& sums);
  // visit(bounds, sign) for both sides.
  template <class Visit>
  void visit_sides(Visit&& visit) {
    visit(low_, 1.0);
    visit(high_, -1.0);
  }
  template <class Visit>
  void visit_sides(Visit&& visit) const {
    visit(low_, 1.0);
    visit(high_, -1.0);
  }
  void advance(StepLengths step, Column& x);
  [[nodiscard]] double complementarity() const;
  [[nodiscard]] double worst_residual() const;

  PackedRows term_rows_, range_rows_;
  Terms terms_;
  Ranges ranges_;
  Bounds low_, high_;
  Column term_multiplier_, range_multiplier_;
  std::vector<std::array<double, Width>> band_;  // diagonal first; factored in place
  Column per_diagonal_;
  std::vector<std::size_t> reach_;  // how many of an unknown's row of the band are not 0
  Column rhs_, dx_;
  std::size_t complementarity_pairs_ = 0;
};

using BandSolver = BasicBandSolver<row_width>;
extern template struct BasicBandProgram<row_width>;
extern template struct BasicBandProgram<wide_row_width>;
extern template struct BasicBandProgram<wider_row_width>;
extern template struct BasicBandProgram<widest_row_width>;
extern template class BasicBandSolver<row_width>;
extern template class BasicBandSolver<wide_row_width>;
extern template class BasicBandSolver<wider_row_width>;
extern template class BasicBandSolver<widest_row_width>;

}  // namespace meltlag::solve
