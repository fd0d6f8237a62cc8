// SPDX-License-Identifier: MIT
#include "comparison_data.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "meltlag/page/html_data.hpp"
#include "meltlag/report/comparison_text.hpp"

namespace meltlag::page {
namespace {

using compare::ComparedRow;
using compare::CurvePoint;
using compare::MeasuredKind;
using compare::PrintComparison;

// Multiples that values are rounded to.
constexpr double time_unit_s = 1e-4, place_unit_mm = 0.01, at_unit_mm = 0.01;
constexpr double value_digits = 1e-5;  // of the largest

// Numbers of one kind and unit, to five digits of the largest; as floats where some are not known.
void write_values(Out const& out, std::string const& id, std::vector<double> const& values) {
  double most = 0;
  for (double const value : values) {
    if (!std::isfinite(value)) return write_floats(out, id, values);
    most = std::max(most, std::abs(value));
  }
  double const unit =
      most > 0 ? std::pow(10.0, std::floor(std::log10(most))) * value_digits : value_digits;
  ColumnWriter column(out, id, unit);
  for (double const value : values) column.add(value);
  column.finish();
}

class KindWriter {
 public:
  KindWriter(Out const& out, PrintComparison const& c, MeasuredKind kind, std::size_t index)
      : out_(out), c_(c), kind_(kind), name_(fmt::format("m{}-", index)) {
    order_ = compare::in_print_order(c, kind);
  }

  void write() const {
    steps("t", time_unit_s, [](ComparedRow const& row) { return row.print_s; });
    steps("line", 1, [](ComparedRow const& row) { return static_cast<double>(row.line); });
    if (kind_ == MeasuredKind::mass)
      steps("to-line", 1, [](ComparedRow const& row) {
        return static_cast<double>(row.measured.to_line);
      });
    if (kind_ == MeasuredKind::width)
      steps(
          "at", at_unit_mm, [](ComparedRow const& row) { return row.measured.at_mm.value_or(-1); });
    steps("x", place_unit_mm, [](ComparedRow const& row) { return row.at_mm.x; });
    steps("y", place_unit_mm, [](ComparedRow const& row) { return row.at_mm.y; });
    values("measured", [](ComparedRow const& row) { return row.measured.value; });
    values("predicted", [](ComparedRow const& row) { return row.predicted; });
    values("without", [](ComparedRow const& row) { return row.without_lag; });
    values("wanted", [](ComparedRow const& row) { return row.asked; });
    values("sd", [](ComparedRow const& row) { return row.expected_sd(); });
    if (compare::by_time(kind_)) write_curve();
  }

 private:
  template <class Value>
  void steps(char const* id, double unit, Value value) const {
    ColumnWriter column(out_, name_ + id, unit);
    for (std::size_t const i : order_) column.add(value(c_.rows[i]));
    column.finish();
  }
  template <class Value>
  void values(char const* id, Value value) const {
    std::vector<double> all;
    all.reserve(order_.size());
    for (std::size_t const i : order_) all.push_back(value(c_.rows[i]));
    write_values(out_, name_ + id, all);
  }
  template <class Value>
  void curve(char const* id, Value value) const {
    std::vector<double> all;
    for (CurvePoint const& point : c_.curve) all.push_back(value(point));
    write_values(out_, name_ + id, all);
  }
  // What a thrust ought to be is known at the rows alone.
  void write_curve() const {
    bool const flow = kind_ == MeasuredKind::flow;
    curve("curve-t", [](CurvePoint const& point) { return point.print_s; });
    curve("curve-predicted",
          [&](CurvePoint const& point) { return flow ? point.predicted_mm3_s : point.thrust_n; });
    if (flow) curve("curve-wanted", [](CurvePoint const& point) { return point.asked_mm3_s; });
  }

  Out const& out_;
  PrintComparison const& c_;
  MeasuredKind kind_;
  std::string name_;
  std::vector<std::size_t> order_;
};

}  // namespace

std::string_view plural_of(MeasuredKind kind) {
  switch (kind) {
    case MeasuredKind::width:
      return "widths of beads";
    case MeasuredKind::line_flow:
      return "flows of lines";
    case MeasuredKind::mass:
      return "masses of lines";
    case MeasuredKind::flow:
      return "flow over time";
    case MeasuredKind::force:
      return "thrust over time";
  }
  return {};
}

void write_comparison_data(Out const& out, PrintComparison const& c) {
  nlohmann::json kinds = nlohmann::json::array(), worst = nlohmann::json::array();
  for (std::size_t k = 0; k < c.kinds.size(); ++k) {
    MeasuredKind const kind = c.kinds[k].kind;
    KindWriter(out, c, kind, k).write();
    kinds.push_back({{"name", plural_of(kind)},
                     {"kind", compare::name_of(kind)},
                     {"unit", compare::unit_of(kind)},
                     {"timed", compare::by_time(kind)}});
  }
  for (compare::RowStretch const& s : c.worst) {
    if (!report::stands_out(s)) break;
    auto const of = std::ranges::find(c.kinds, s.kind, &compare::KindSummary::kind);
    worst.push_back({{"kind", of - c.kinds.begin()},
                     {"first", s.first_row},
                     {"rows", s.rows},
                     {"line", s.line}});
  }
  write_json(out, "m-rest", {{"kinds", kinds}, {"worst", worst}});
}

}  // namespace meltlag::page
