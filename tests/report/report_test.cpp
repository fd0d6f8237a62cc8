// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "meltlag/report/diff.hpp"
#include "meltlag/report/inspection.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/rows.hpp"
#include "meltlag/report/table.hpp"

using namespace meltlag;
using namespace meltlag::report;

namespace {

judge::MoveRow bead(std::int64_t line, double e_after_mm) {
  judge::MoveRow row;
  row.line = line;
  row.kind = gcode::MoveKind::print;
  row.end_mm = {10, 0, 0.3};
  row.length_mm = 10;
  row.duration_s = row.duration_after_s = 0.5;
  row.start_s = row.start_after_s = static_cast<double>(line);
  row.e_before_mm = 1;
  row.e_after_mm = e_after_mm;
  row.first_rate_after = row.last_rate_after = e_after_mm / 10;
  row.commanded_before_mm3 = row.wanted_mm3 = 2.4;
  row.commanded_after_mm3 = 2.4 * e_after_mm;
  row.got_before_mm3 = 2;
  row.got_after_mm3 = 2.25;
  row.run_on_after_mm3 = 1.25;
  row.emitted_first_line = row.emitted_last_line = line + 1;
  row.pieces = 1;
  row.kept = e_after_mm == 1;
  return row;
}

std::size_t widest_report_line(std::string const& text) {
  std::size_t widest = 0;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) widest = std::max(widest, shown_width(line));
  return widest;
}

}  // namespace

TEST_SUITE("report") {
  TEST_CASE("columns stay aligned where units are not ASCII") {
    Table const table({{"flow", "mm³/s", 7}, {"what", "", 6, Align::left}, {"n", "", 3}});
    std::string out = table.header();
    table.append_row(out, {"1.5", "été", "12"});
    CHECK(out ==
          "   flow what     n\n"
          "  mm³/s\n"
          "    1.5 été     12\n");
  }

  TEST_CASE("numbers lose their trailing zeros and never show a minus zero") {
    CHECK(number(1.500, 3) == "1.5");
    CHECK(number(20, 2) == "20");
    CHECK(number(100, 0) == "100");
    CHECK(fixed(-0.0001, 2) == "0.00");
    CHECK(fixed(-0.01, 2) == "-0.01");
    CHECK(fixed(std::nan(""), 2) == "–");
  }

  TEST_CASE("durations use the units people use") {
    CHECK(duration(21.34) == "21.3 s");
    CHECK(duration(59.97) == "1 min 00 s");
    CHECK(duration(200.4) == "3 min 20 s");
    CHECK(duration(3840) == "1 h 04 min");
  }

  // RFC 4180, section 2, rules 5 to 7.
  TEST_CASE("fields of CSV are quoted where they must be") {
    CHECK(csv_field("pre-retract") == "pre-retract");
    CHECK(csv_field("a,b") == "\"a,b\"");
    CHECK(csv_field("say \"so\"") == "\"say \"\"so\"\"\"");
    CHECK(csv_field("two\nlines") == "\"two\nlines\"");
  }

  TEST_CASE("list items break at 80 columns and keep all words") {
    std::string const text = list_item(
        "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen");
    CHECK(widest_report_line(text) <= 80);
    CHECK(text.substr(0, 6) == "- one ");
    CHECK(text.find("\n  ") != std::string::npos);
    CHECK(text.substr(text.size() - 8) == "fifteen\n");
  }

  TEST_CASE("the line by line prediction gives flow and width, and leaves out what is not known") {
    std::ostringstream out;
    PredictCsv csv(out, std::nullopt);
    judge::MoveRow lift;
    lift.line = 1;
    lift.end_mm = {0, 0, 0.3};
    lift.length_mm = 0.3;
    lift.duration_after_s = 0.1;
    csv.on_row(lift);
    csv.on_row(bead(3, 1));
    csv.finish(4);
    CHECK(out.str() ==
          "line,t_s,dt_s,length_mm,commanded_mm3_s,predicted_mm3_s,wanted_mm3,got_mm3,run_on_mm3,"
          "pressure_mpa,width_mm\n"
          "1,0.0000,0.1,0.3,0,0,0,0,0,,\n"
          "2,,,,,,,,,,\n"
          "3,3.0000,0.5,10,4.8,4.5,2.4,2.25,1.25,,0.814381\n"
          "4,,,,,,,,,,\n");
  }

  TEST_CASE("the difference shows what changed most with its neighbours") {
    std::string out;
    DiffView view(
        Show::most_changed, Form::text, Melt::known, [&](std::string_view text) { out += text; });
    for (int line = 1; line <= 40; ++line) view.on_row(bead(line, line == 20 ? 1.1 : 1));
    view.finish({});
    CHECK(view.counts().moves == 40);
    CHECK(view.counts().changed == 1);
    CHECK(widest_report_line(out) <= 80);
    CHECK(std::count(out.begin(), out.end(), '\n') == 2 + 5);
    CHECK(out.find("     18 print  as written") != std::string::npos);
    CHECK(out.find("     20 print  steady") != std::string::npos);
    CHECK(out.find("     22 print  as written") != std::string::npos);
  }

  TEST_CASE("of many changes the greatest are shown") {
    std::string out;
    DiffView view(
        Show::most_changed, Form::text, Melt::unknown, [&](std::string_view text) { out += text; });
    for (int line = 1; line <= 200; ++line) view.on_row(bead(line, 1 + 0.001 * line));
    view.finish({});
    CHECK(out.find("    200 print") != std::string::npos);
    CHECK(out.find("    193 print") != std::string::npos);
    CHECK(out.find("    100 print") == std::string::npos);
  }

  TEST_CASE("the difference as JSON is one document, with or without moves") {
    for (int moves : {0, 1, 30}) {
      CAPTURE(moves);
      std::string out;
      DiffView view(
          Show::all, Form::json, Melt::known, [&](std::string_view text) { out += text; });
      for (int line = 1; line <= moves; ++line) view.on_row(bead(line, 1.02));
      judge::Parting parting;
      parting.text = "here \"they\" part";
      view.finish(parting);
      auto const json = nlohmann::json::parse(out);
      CHECK(json["moves"].size() == static_cast<std::size_t>(moves));
      CHECK(json["changes"]["changed"] == moves);
      CHECK(json["paths_part"]["text"] == "here \"they\" part");
    }
  }

  TEST_CASE("text that is no UTF-8 does not break JSON") {
    Notices notices;
    notices.note("odd byte \xB0 here", 3);
    auto const json = nlohmann::json::parse(dump(to_json(notices.list())));
    CHECK(json[0]["lines"][0] == 3);
  }

  TEST_CASE("figures stay within 80 columns") {
    judge::PrintMetrics figure;
    figure.wanted_mm3 = 1234567.8;
    figure.misplaced_mm3 = 1e5;
    figure.blobs = figure.stops = 123456;
    figure.blob_total_mm3 = 1e5;
    figure.gaps = figure.starts = 123456;
    figure.gap_total_mm = 1e6;
    figure.lines = figure.moves = 12345678;
    figure.planned_s = 1e6;
    std::string const text =
        to_text(MetricsTable{.as_sliced = figure, .adapted = figure, .parts = {}});
    CHECK(widest_report_line(text) <= 80);
    CHECK(text.find("8.1 %") != std::string::npos);
  }

  TEST_CASE("an inspection warns of what a builder should look at") {
    InspectionTable table{.file = {}};
    table.file.prints = 1;
    table.file.printing_s = 10;
    table.file.mean_flow_mm3_s = 2;
    table.file.peak_flow_mm3_s = 20;
    table.file.purged_after_heat = true;
    CHECK(warnings(table).empty());
    table.max_flow_mm3_s = 15;
    table.file.adapted_already = true;
    table.file.e_mode_never_stated = true;
    table.file.firmware_side_lag = true;
    table.melt_volume_mm3 = 1000;
    table.longest_residence_s = 520;
    CHECK(warnings(table).size() == 4);
    table.file.longest_standstill_s = 30;  // 1000 / 2 + 30 > 520
    table.file.purged_after_heat = false;
    CHECK(warnings(table).size() == 6);
    CHECK(widest_report_line(to_text(table)) <= 80);
    CHECK(to_json(table)["longest_residence_s"] == 530);
  }
}
