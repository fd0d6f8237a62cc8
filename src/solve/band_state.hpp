// SPDX-License-Identifier: MIT
// What the banded solver holds while it works: the program's rows packed by their length, each
// row's parts and multipliers, the band, and the steps of one Newton iteration.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "meltlag/solve/band_program.hpp"

namespace meltlag::solve {

template <std::size_t Width>
class BandState {
 public:
  using Program = BasicBandProgram<Width>;

  BandInfo solve(Program const& program, BandSettings const& settings, std::vector<double>& x);
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
    // Calls body(number of coefficients, as a constant; row; its coefficients).
    template <class Body>
    void in_two_places(Body&& body) const;
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
  // Share of the start's primal and dual residuals that is still there.
  struct Left {
    double primal = 1, dual = 1;
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
  template <class Visit>
  bool visit_block(std::size_t block, Visit&& visit) const;
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
  bool iterate(Program const& program, Column& x, BandInfo& info, Left& left);
  void take_multipliers();
  [[nodiscard]] double complementarity() const;
  [[nodiscard]] double worst_residual() const;

  PackedRows term_rows_, range_rows_;
  Terms terms_;
  Ranges ranges_;
  Bounds low_, high_;
  Column term_multiplier_, range_multiplier_;
  std::vector<std::array<double, Width>> band_;  // diagonal first; factored in place
  Column per_diagonal_;
  static constexpr std::size_t block_size = 16;  // of unknowns
  std::vector<std::size_t> block_reach_;  // the most of an unknown's row of the band that are not 0
  Column rhs_, dx_;
  std::size_t complementarity_pairs_ = 0;
};

}  // namespace meltlag::solve
