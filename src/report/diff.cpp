// SPDX-License-Identifier: MIT
#include "meltlag/report/diff.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>

#include "meltlag/report/metrics.hpp"

namespace meltlag::report {
namespace {

using judge::Change;
using judge::MoveRow;

constexpr std::size_t most_spots = 8;
constexpr std::size_t context = 2;  // rows before and after each

std::vector<Column> columns_for(Melt melt) {
  std::vector<Column> columns = {{"line", "", 7},
                                 {"move", "", 6, Align::left},
                                 {"became", "", 11, Align::left},
                                 {"length", "mm", 7},
                                 {"time", "s", 6},
                                 {"E was", "mm", 8},
                                 {"E is", "mm", 8}};
  if (melt == Melt::unknown) {
    columns.push_back({"adapted line", "", 12});
    return columns;
  }
  columns.push_back({"wanted", "mm³", 6});
  columns.push_back({"got", "before", 6});
  columns.push_back({"got", "after", 6});
  return columns;
}

std::vector<std::string> cells_of(MoveRow const& row, Melt melt) {
  std::vector<std::string> cells = {std::to_string(row.line),
                                    std::string(judge::name_of(row.kind)),
                                    std::string(judge::name_of(judge::change_of(row))),
                                    fixed(row.length_mm, 2),
                                    fixed(row.duration_after_s, 3),
                                    fixed(row.e_before_mm, 4),
                                    fixed(row.e_after_mm + row.e_added_mm, 4)};
  bool const on_path = row.kind != gcode::MoveKind::e_only;
  if (melt == Melt::unknown) {
    cells.push_back(row.pieces > 0 ? std::to_string(row.emitted_first_line) : "");
  } else if (on_path) {
    for (double const mm3 : {row.wanted_mm3, row.got_before_mm3, row.got_after_mm3}) {
      cells.push_back(fixed(mm3, 3));
    }
  }
  return cells;
}

}  // namespace

DiffView::DiffView(Show show, Form form, Melt melt, Out out)
    : show_(show), form_(form), melt_(melt), out_(std::move(out)), table_(columns_for(melt)) {}

void DiffView::on_row(MoveRow const& row) {
  Change const change = judge::change_of(row);
  bool const changed = change != Change::kept || row.e_added_mm != 0;
  ++counts_.moves;
  counts_.changed += changed ? 1 : 0;
  ++counts_.of[static_cast<std::size_t>(change)];
  counts_.e_added_mm += row.e_added_mm;
  if (show_ == Show::all) return write(row);
  consider({counts_.moves, row});
}

// Keeps the rows around those that changed most.
void DiffView::consider(Numbered const& row) {
  for (Spot& spot : spots_) {
    if (spot.missing == 0) continue;
    spot.rows.push_back(row);
    --spot.missing;
  }
  double const weight = judge::changed_mm3(row.row);
  auto const lighter = [](Spot const& a, Spot const& b) { return a.weight < b.weight; };
  auto const least = std::min_element(spots_.begin(), spots_.end(), lighter);
  bool const room = spots_.size() < most_spots;
  if (weight > 0 && (room || weight > least->weight)) {
    Spot& spot = room ? spots_.emplace_back() : *least;
    spot.weight = weight;
    spot.rows.assign(last_.begin(), last_.end());
    spot.rows.push_back(row);
    spot.missing = context;
  }
  if (last_.size() == context) last_.erase(last_.begin());
  last_.push_back(row);
}

void DiffView::write(MoveRow const& row) {
  line_.clear();
  if (form_ == Form::json) {
    line_ = first_ ? "{\"moves\": [\n" : ",\n";
    line_ += to_json(row, melt_).dump();
  } else {
    if (first_) line_ = table_.header();
    table_.append_row(line_, cells_of(row, melt_));
  }
  first_ = false;
  out_(line_);
}

void DiffView::write_most_changed() {
  std::map<std::int64_t, MoveRow> rows;  // neighbours may be shared
  for (Spot const& spot : spots_) {
    for (Numbered const& row : spot.rows) rows.emplace(row.index, row.row);
  }
  std::int64_t last = 0;
  for (auto const& [index, row] : rows) {
    if (form_ == Form::text && index != last + 1 && last != 0) out_("    ...\n");
    last = index;
    write(row);
  }
}

void DiffView::finish(std::optional<judge::Parting> const& parting,
                      std::optional<MetricsTable> const& figures) {
  if (show_ == Show::most_changed) write_most_changed();
  if (form_ == Form::text) return;
  nlohmann::json rest = {{"changes", to_json(counts_)}};
  if (parting) {
    rest["paths_part"] = {{"original_line", parting->original_line},
                          {"adapted_line", parting->emitted_line},
                          {"off_mm", parting->off_mm},
                          {"text", parting->text}};
  }
  if (figures) rest.update(to_json(*figures));
  std::string const tail = dump(rest);
  out_(first_ ? "{\"moves\": [" : "\n");
  out_("],\n");
  out_(std::string_view(tail).substr(tail.find('\n') + 1));
}

std::string to_text(ChangeCounts const& counts) {
  std::string out = fmt::format(
      "{} moves of the original compared, {} of them changed\n", counts.moves, counts.changed);
  for (int i = 0; i < judge::change_kinds; ++i) {
    std::int64_t const count = counts.of[static_cast<std::size_t>(i)];
    if (count == 0) continue;
    out += fmt::format("  {:<12} {:>9}\n", judge::name_of(static_cast<Change>(i)), count);
  }
  if (counts.e_added_mm != 0) {
    out +=
        fmt::format("  E-only moves added at stops: {:+.4f} mm of E in all\n", counts.e_added_mm);
  }
  return out;
}

nlohmann::json to_json(ChangeCounts const& counts) {
  nlohmann::json became = nlohmann::json::object();
  for (int i = 0; i < judge::change_kinds; ++i) {
    became[std::string(judge::name_of(static_cast<Change>(i)))] =
        counts.of[static_cast<std::size_t>(i)];
  }
  return {{"moves", counts.moves},
          {"changed", counts.changed},
          {"became", became},
          {"e_added_mm", counts.e_added_mm}};
}

}  // namespace meltlag::report
