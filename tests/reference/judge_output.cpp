// SPDX-License-Identifier: MIT
#include "judge_output.hpp"

#include <cmath>
#include <cstdio>
#include <utility>

namespace meltlag_reference {
namespace {

std::vector<std::pair<const char*, double>> figures(const Verdict& v) {
  const auto count = [](std::size_t n) { return static_cast<double>(n); };
  return {{"misplaced_percent", v.misplaced_percent},
          {"bead_error_percent", v.bead_error_percent},
          {"strings_mm3", v.strings_mm3},
          {"longest_string_mm", v.longest_string_mm},
          {"largest_string_mm3", v.largest_string_mm3},
          {"all_travels_mm3", v.all_travels_mm3},
          {"stops", count(v.stops)},
          {"stop_lines", count(v.stop_lines)},
          {"stops_s", v.stops_s},
          {"starved_mm3", v.starved_mm3},
          {"starved_kept_mm3", v.starved_kept_mm3},
          {"starved_line", count(v.starved_line)},
          {"planned_s", v.planned_s},
          {"path_only_s", v.path_only_s},
          {"wanted_mm3", v.wanted_mm3},
          {"got_on_path_mm3", v.got_on_path_mm3},
          {"uncounted_mm3", v.uncounted_mm3},
          {"run_on_max_mm3", v.run_on_max_mm3},
          {"run_on_end_mm3", v.run_on_end_mm3},
          {"wound_back_end_mm3", v.wound_back_end_mm3},
          {"cells", count(v.cells)},
          {"blobs", count(v.blobs)},
          {"blob_mean_mm3", v.blob_mean_mm3},
          {"blob_largest_mm3", v.blob_largest_mm3},
          {"blob_largest_ball_mm", v.blob_largest_ball_mm},
          {"starts", count(v.starts)},
          {"gaps", count(v.gaps)},
          {"gap_mean_mm", v.gap_mean_mm},
          {"gap_largest_mm", v.gap_largest_mm},
          {"moves", count(v.moves)},
          {"peak_flow_mm3_s", v.peak_flow_mm3_s},
          {"peak_e_speed_mm_s", v.peak_e_speed_mm_s},
          {"largest_e_jump_mm_s", v.largest_e_jump_mm_s},
          {"largest_e_acceleration_mm_s2", v.largest_e_acceleration_mm_s2},
          {"max_flow_mm3_s", v.max_flow_mm3_s}};
}

std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    out += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
  }
  return out + '"';
}

// Endless is no number of JSON.
std::string number(double value) {
  if (!std::isfinite(value)) return "null";
  char text[40];
  std::snprintf(text, sizeof text, "%.10g", value);
  return text;
}

}  // namespace

void print_table(const std::vector<NamedVerdict>& columns) {
  std::printf("%-30s", "figure");
  for (const NamedVerdict& column : columns) std::printf(" %15s", column.name.c_str());
  std::printf("\n");
  const std::size_t rows = figures(columns.front().verdict).size();
  for (std::size_t row = 0; row < rows; ++row) {
    std::printf("%-30s", figures(columns.front().verdict)[row].first);
    for (const NamedVerdict& column : columns) {
      const double value = figures(column.verdict)[row].second;
      const bool whole = value == std::floor(value) && std::isfinite(value);
      std::printf(" %15.*f", whole ? 0 : 4, value);
    }
    std::printf("\n");
  }
}

void print_json(const std::vector<NamedVerdict>& columns,
                const std::vector<std::string>& violations) {
  std::printf("{\"columns\": {");
  const char* comma = "";
  for (const NamedVerdict& column : columns) {
    std::printf("%s\n  %s: {", comma, quoted(column.name).c_str());
    const char* inner = "";
    for (const auto& [name, value] : figures(column.verdict)) {
      std::printf("%s\"%s\": %s", inner, name, number(value).c_str());
      inner = ", ";
    }
    std::printf("}");
    comma = ",";
  }
  std::printf("},\n\"violations\": [");
  comma = "";
  for (const std::string& text : violations) {
    std::printf("%s\n  %s", comma, quoted(text).c_str());
    comma = ",";
  }
  std::printf("]}\n");
}

}  // namespace meltlag_reference
