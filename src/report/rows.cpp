// SPDX-License-Identifier: MIT
#include "meltlag/report/rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <nlohmann/json.hpp>
#include <ostream>

#include "meltlag/melt/bead.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using judge::MoveRow;

// Enough digits to add up again; not more than mean anything.
void append(std::string& line, double value) {
  fmt::format_to(std::back_inserter(line), ",{:.6g}", value);
}
void append_if(std::string& line, bool known, double value) {
  if (known && std::isfinite(value)) {
    append(line, value);
  } else {
    line += ',';
  }
}

// Times since the beginning keep their tenths of a millisecond however long the print.
void append_time(std::string& line, bool known, double value) {
  if (known) {
    fmt::format_to(std::back_inserter(line), ",{:.4f}", value);
  } else {
    line += ',';
  }
}

}  // namespace

PredictCsv::PredictCsv(std::ostream& out, std::optional<melt::PartsLag> parts)
    : out_(out), parts_(std::move(parts)) {
  out_ << "line,t_s,dt_s,length_mm,commanded_mm3_s,predicted_mm3_s,wanted_mm3,got_mm3,run_on_mm3,"
          "pressure_mpa,width_mm\n";
}

// Lines up to `until` that move nothing.
void PredictCsv::pass_lines(std::int64_t until) {
  while (last_line_ < until) out_ << ++last_line_ << ",,,,,,,,,,\n";
}

void PredictCsv::finish(std::int64_t lines) { pass_lines(lines); }

void PredictCsv::on_row(MoveRow const& row) {
  pass_lines(row.line - 1);
  last_line_ = row.line;
  bool const moves = row.duration_after_s > 0;
  line_.clear();
  fmt::format_to(std::back_inserter(line_), "{}", row.line);
  append_time(line_, moves, row.start_after_s);
  append(line_, row.duration_after_s);
  append(line_, row.length_mm);
  append_if(line_, moves, row.commanded_after_mm3 / row.duration_after_s);
  bool const on_path = row.kind != gcode::MoveKind::e_only;
  append_if(line_, moves && on_path, row.got_after_mm3 / row.duration_after_s);
  append_if(line_, on_path, row.wanted_mm3);
  append_if(line_, on_path, row.got_after_mm3);
  append_if(line_, moves, row.run_on_after_mm3);
  double const pressure =
      parts_ ? melt::pressure_at_run_on_mpa(*parts_, std::max(0.0, row.run_on_after_mm3)) : 0;
  append_if(line_, parts_.has_value() && moves, pressure);
  double const height = layers_.height_mm(row);
  append_if(line_,
            height > 0 && row.length_mm > 0,
            melt::bead_width_mm(row.got_after_mm3 / row.length_mm, height));
  line_ += '\n';
  out_ << line_;
}

DiffCsv::DiffCsv(std::ostream& out, Melt melt) : out_(out), melt_(melt) {
  out_ << "line,move,became,adapted_first_line,adapted_last_line,length_mm,t_before_s,dt_before_s,"
          "t_after_s,dt_after_s,e_before_mm,e_after_mm,e_added_mm";
  if (melt == Melt::known) out_ << ",wanted_mm3,got_before_mm3,got_after_mm3";
  out_ << '\n';
}

void DiffCsv::on_row(MoveRow const& row) {
  line_.clear();
  fmt::format_to(std::back_inserter(line_),
                 "{},{},{}",
                 row.line,
                 csv_field(judge::name_of(row.kind)),
                 csv_field(judge::name_of(judge::change_of(row))));
  bool const there = row.pieces > 0;
  if (there) {
    fmt::format_to(
        std::back_inserter(line_), ",{},{}", row.emitted_first_line, row.emitted_last_line);
  } else {
    line_ += ",,";
  }
  append(line_, row.length_mm);
  append_time(line_, true, row.start_s);
  append(line_, row.duration_s);
  append_time(line_, there, row.start_after_s);
  append(line_, row.duration_after_s);
  append(line_, row.e_before_mm);
  append(line_, row.e_after_mm);
  append(line_, row.e_added_mm);
  if (melt_ == Melt::known) {
    bool const on_path = row.kind != gcode::MoveKind::e_only;
    append_if(line_, on_path, row.wanted_mm3);
    append_if(line_, on_path, row.got_before_mm3);
    append_if(line_, on_path, row.got_after_mm3);
  }
  line_ += '\n';
  out_ << line_;
}

nlohmann::json to_json(MoveRow const& row, Melt melt) {
  nlohmann::json out = {{"line", row.line},
                        {"move", judge::name_of(row.kind)},
                        {"became", judge::name_of(judge::change_of(row))},
                        {"length_mm", row.length_mm},
                        {"t_before_s", row.start_s},
                        {"dt_before_s", row.duration_s},
                        {"dt_after_s", row.duration_after_s},
                        {"e_before_mm", row.e_before_mm},
                        {"e_after_mm", row.e_after_mm},
                        {"e_added_mm", row.e_added_mm}};
  if (row.pieces > 0) {
    out["adapted_first_line"] = row.emitted_first_line;
    out["adapted_last_line"] = row.emitted_last_line;
    out["t_after_s"] = row.start_after_s;
  }
  if (melt == Melt::known && row.kind != gcode::MoveKind::e_only) {
    out["wanted_mm3"] = row.wanted_mm3;
    out["got_before_mm3"] = row.got_before_mm3;
    out["got_after_mm3"] = row.got_after_mm3;
  }
  return out;
}

}  // namespace meltlag::report
