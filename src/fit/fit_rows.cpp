// SPDX-License-Identifier: MIT
#include "fit_rows.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace meltlag::fit {
namespace {

constexpr double band_slack_sd = 5;
constexpr double not_counted = 0.35;  // by the robust loss

reading::TraceMark const* mark_of(reading::PrintedPath const& path,
                                  reading::Reading const& reading) {
  return reading.lines.empty() ? nullptr : path.mark_of(reading.lines.front());
}

double off_sd(RowOutcome const& row) { return (row.measured - row.predicted) / row.sd; }

bool looks_wrong(RowOutcome const& row) {
  return std::abs(off_sd(row)) > wrong_beyond_sd || row.counted < not_counted;
}

// True when another copy of the same group was read at about the same place and is as predicted.
bool a_copy_is_fine(reading::PrintedPath const& path,
                    std::vector<reading::Reading> const& readings,
                    std::vector<RowOutcome> const& rows,
                    std::size_t index) {
  reading::TraceMark const* const mark = mark_of(path, readings[index]);
  if (mark == nullptr) return false;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    reading::TraceMark const* const other = mark_of(path, readings[i]);
    bool const copy = i != index && other != nullptr && other->group == mark->group &&
                      rows[i].kind == reading::ReadingKind::width;
    if (copy && !looks_wrong(rows[i])) return true;
  }
  return false;
}

}  // namespace

std::vector<RowOutcome> judge_rows(reading::PrintedPath const& path,
                                   std::vector<reading::Reading> const& readings,
                                   std::vector<reading::Predicted> const& predicted,
                                   Eigen::VectorXd const& counted,
                                   std::vector<Band> const& bands) {
  std::vector<RowOutcome> rows;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    reading::Reading const& reading = readings[i];
    rows.push_back({.row = reading.row,
                    .trace = reading.trace,
                    .kind = reading.kind,
                    .ruler_mm = reading.ruler_mm,
                    .measured = *reading.value,
                    .predicted = predicted[i].value,
                    .sd = predicted[i].sd,
                    .counted = counted[static_cast<Eigen::Index>(i)],
                    .thin = predicted[i].thin});
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    RowOutcome& row = rows[i];
    double const slack = band_slack_sd * row.sd;
    if (row.measured < bands[i].least - slack || row.measured > bands[i].most + slack)
      row.verdict = RowVerdict::queried;
    else if (looks_wrong(row))
      row.verdict = off_sd(row) < 0 && row.kind == reading::ReadingKind::width &&
                            a_copy_is_fine(path, readings, rows, i)
                        ? RowVerdict::feed_trouble
                        : RowVerdict::looks_wrong;
  }
  return rows;
}

// One more unknown δ in the fit, linear about its end: sections are 1 − δ/2 of those stated on
// first copies and 1 + δ/2 on last ones.
std::optional<Value> drift_of(reading::PrintedPath const& path,
                              std::vector<reading::Reading> const& readings,
                              std::vector<RowOutcome> const& rows,
                              LeastSquaresResult const& found) {
  Eigen::VectorXd by_drift = Eigen::VectorXd::Zero(found.residuals.size());
  int first = 0, last = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    reading::TraceMark const* const mark = mark_of(path, readings[i]);
    bool const counts =
        mark != nullptr && rows[i].kind == reading::ReadingKind::width && rows[i].counted > 0;
    if (!counts || (mark->copy != 1 && mark->copy != 3)) continue;
    double const side = mark->copy == 1 ? -0.5 : 0.5;
    by_drift[static_cast<Eigen::Index>(i)] = side * rows[i].predicted / rows[i].sd;
    ++(mark->copy == 1 ? first : last);
  }
  if (first < 2 || last < 2) return {};
  Eigen::VectorXd const root = found.weights.cwiseSqrt();
  Eigen::MatrixXd all(found.jacobian.rows(), found.jacobian.cols() + 1);
  all << found.jacobian, by_drift;
  all = root.asDiagonal() * all;
  // From the normal equations: what is known beforehand keeps them regular.
  Eigen::LDLT<Eigen::MatrixXd> const normal(all.transpose() * all);
  Eigen::VectorXd const last_one = Eigen::VectorXd::Unit(all.cols(), all.cols() - 1);
  Eigen::VectorXd const row = normal.solve(last_one);
  double const change = -row.dot(all.transpose() * (root.asDiagonal() * found.residuals));
  double const variance = row[all.cols() - 1];
  if (!(variance > 0) || !std::isfinite(change)) return {};
  return Value{.value = change, .sd = std::sqrt(variance)};
}

}  // namespace meltlag::fit
