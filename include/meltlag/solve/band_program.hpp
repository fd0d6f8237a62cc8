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
#include <memory>
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

template <std::size_t Width>
class BandState;  // src/solve/band_state.hpp

// Keeps its memory from one call to the next. Of one that was moved from nothing but its end or a
// new value may be asked.
template <std::size_t Width>
class BasicBandSolver {
 public:
  using Program = BasicBandProgram<Width>;
  BasicBandSolver();
  BasicBandSolver(BasicBandSolver&&) noexcept;
  BasicBandSolver& operator=(BasicBandSolver&&) noexcept;
  ~BasicBandSolver();

  // `x` holds the start (any) and receives the result.
  BandInfo solve(Program const& program, BandSettings const& settings, std::vector<double>& x);

  // Multipliers of the terms in −1 … 1 and of the ranges (high − low) after solve: sensitivities of
  // the objective, d objective / d target = −term multiplier.
  [[nodiscard]] std::vector<double> const& term_multipliers() const;
  [[nodiscard]] std::vector<double> const& range_multipliers() const;

 private:
  std::unique_ptr<BandState<Width>> state_;
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
