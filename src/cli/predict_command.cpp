// SPDX-License-Identifier: MIT
#include "predict_command.hpp"

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "judging.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/gcode/recognise.hpp"
#include "meltlag/report/credit.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/rows.hpp"
#include "output.hpp"
#include "profile_command.hpp"
#include "report_file.hpp"
#include "terminal.hpp"

namespace meltlag::cli {
namespace {

struct PredictCommandOptions {
  std::string file, profile, original, csv, report;
  bool json = false;
};

report::MetricsTable predict(PredictCommandOptions const& request,
                             profile::Profile const& profile,
                             Notices& notices,
                             std::optional<CsvFile>& csv,
                             judge::CellSink* cells) {
  judge::JudgeOptions const options = judge_options(profile);
  report::MetricsTable table;
  std::optional<report::PredictCsv> rows;
  if (!request.csv.empty()) {
    csv.emplace(
        request.csv,
        std::initializer_list<std::string>{request.file, request.original, request.profile});
    rows.emplace(csv->stream(), profile::parts_lag(profile));
  }
  judge::RowSink* const sink = rows ? &*rows : nullptr;
  if (request.original.empty()) {
    table = metrics_table(judge::predict(request.file, options, notices, sink, cells), profile);
    table.adapted.reset();
    if (says_adapted(request.file)) table.flow_set_right.reset();
  } else {
    auto const judged =
        judge::judge_files(request.original, request.file, options, notices, sink, cells);
    if (judged.parting) {
      throw Error("its path is not the original's: " + judged.parting->text,
                  {.file = request.file},
                  "Give as --original the file that it was made from.");
    }
    table = metrics_table(judged, profile);
  }
  if (rows) rows->finish(table.as_sliced.lines);
  if (csv) csv->finish();
  return table;
}

void run_predict(PredictCommandOptions const& request) {
  profile::Profile const profile = profile::load(request.profile, load_options());
  gcode::require_gcode(request.file);
  Notices notices;
  std::optional<ReportFile> file;
  if (!request.report.empty()) {
    file.emplace(request.report,
                 std::vector{request.file, request.original, request.profile, request.csv});
  }
  page::PathRecord path;
  std::optional<CsvFile> csv;
  Task const task("predicting");
  report::MetricsTable const table =
      predict(request, profile, notices, csv, file ? &path : nullptr);
  if (file) {
    path.finish();
    page::PathPage page = path_page("predict", request.file, profile);
    page.figures = table;
    page.notices = notices.list();
    page::write_page(file->out(), page, path);
    file->finish();
  }
  if (csv) csv->commit();
  if (file) file->commit();
  if (request.json) {
    nlohmann::json out = report::to_json(table);
    out["file"] = request.file;
    out["notices"] = report::to_json(notices.list());
    return print(report::dump(out));
  }
  if (table.as_sliced.wanted_mm3 <= 0) print("The file extrudes nothing while the head moves.\n");
  print(report::opening(table) + with_bold_line(report::to_text(table), main_row, Stream::out));
  std::string const noted = report::to_text(notices.list());
  if (!noted.empty()) print("\nNoted:\n" + noted);
}

}  // namespace

void add_predict_command(CLI::App& app, int& status) {
  auto const request = std::make_shared<PredictCommandOptions>();
  CLI::App* const command = app.add_subcommand(
      "predict",
      "Say what a file will lay down, before it is printed.\n"
      "Misplaced plastic, blobs, gaps and strings; --csv: flow and width line by line.\n"
      "Example: meltlag predict part.gcode --profile auger.toml --csv flow.csv");
  command->add_option("FILE", request->file, "The G-code file")->required();
  command->add_option("--profile", request->profile, "The machine's profile (TOML)")->required();
  command->add_option("--original",
                      request->original,
                      "Judge FILE by what this file asks for, from which it was adapted");
  command->add_option("--csv", request->csv, "Write one row for each original line");
  command->add_option("--report", request->report, report_help);
  command->add_flag("--json", request->json, "Print the table as JSON");
  command->callback([request, &status] {
    run_predict(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
