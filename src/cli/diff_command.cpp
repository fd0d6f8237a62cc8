// SPDX-License-Identifier: MIT
#include "diff_command.hpp"

#include <fmt/format.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "judging.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/page/layer_picture.hpp"
#include "meltlag/report/credit.hpp"
#include "meltlag/report/diff.hpp"
#include "meltlag/report/metrics.hpp"
#include "output.hpp"
#include "profile_command.hpp"
#include "report_file.hpp"
#include "terminal.hpp"

namespace meltlag::cli {
namespace {

struct DiffCommandOptions {
  std::string original, adapted, profile, csv, report, picture;
  std::size_t layer = 1;
  bool json = false, all = false;
};

// Rows go to the screen and, where asked for, to a CSV file.
class BothSinks : public judge::RowSink {
 public:
  BothSinks(judge::RowSink& first, judge::RowSink* second) : first_(first), second_(second) {}
  void on_row(judge::MoveRow const& row) override {
    first_.on_row(row);
    if (second_ != nullptr) second_->on_row(row);
  }

 private:
  judge::RowSink& first_;
  judge::RowSink* second_;
};

bool same_bytes(std::string const& a_path, std::string const& b_path) {
  constexpr std::size_t chunk = std::size_t{1} << 16;
  std::ifstream a(system::path_of(a_path), std::ios::binary);
  std::ifstream b(system::path_of(b_path), std::ios::binary);
  auto const a_bytes = std::make_unique<std::array<char, chunk>>();
  auto const b_bytes = std::make_unique<std::array<char, chunk>>();
  while (a && b) {
    a.read(a_bytes->data(), chunk);
    b.read(b_bytes->data(), chunk);
    auto const view = [](auto const& bytes, std::ifstream const& file) {
      return std::string_view(bytes->data(), static_cast<std::size_t>(file.gcount()));
    };
    if (view(a_bytes, a) != view(b_bytes, b)) return false;
  }
  return a.eof() && b.eof();
}

void print_summary(judge::Judgement const& judgement,
                   report::DiffView const& view,
                   std::optional<profile::Profile> const& profile) {
  print("\n" + report::to_text(view.counts()));
  if (judgement.parting) {
    print("The paths part: " + judgement.parting->text +
          ".\nFrom there on the files cannot be compared.\n");
    return;
  }
  print("The head's path is the same to 0.005 mm.\n");
  if (!profile) return;
  report::MetricsTable const table = metrics_table(judgement, *profile);
  print("\n" + report::opening(table) +
        with_bold_line(report::to_text(table), main_row, Stream::out));
}

void print_sameness(bool same,
                    judge::Judgement const& judgement,
                    report::ChangeCounts const& counts) {
  if (same) {
    print("The files are the same.\n");
  } else if (counts.changed == 0 && !judgement.parting) {
    print("The moves are the same; other lines differ.\n");
  }
}

void write_report(ReportFile& file,
                  DiffCommandOptions const& request,
                  profile::Profile const& profile,
                  judge::Judgement const& judgement,
                  report::ChangeCounts const& counts,
                  page::PathRecord const& path,
                  Notices const& notices) {
  page::PathPage page = path_page("diff", request.original + " → " + request.adapted, profile);
  page.figures = metrics_table(judgement, profile);
  page.figures.adapted = judgement.after;
  page.figures.parted = judgement.parting.has_value();
  page.changes = counts;
  page.notices = notices.list();
  if (judgement.parting) {
    page.remarks.push_back("The paths part: " + judgement.parting->text +
                           ". The pictures end there, and the adapted file's figures too.");
  }
  page::write_page(file.out(), page, path);
  file.finish();
}

void write_picture(ReportFile& file,
                   DiffCommandOptions const& request,
                   page::PathRecord const& path) {
  if (request.layer > path.layers().size()) {
    throw Error(
        fmt::format(
            "has {} layers, so there is no layer {} to draw", path.layers().size(), request.layer),
        {.file = request.original},
        "Give --layer a smaller number.");
  }
  page::write_layer_picture(file.out(), path, request.layer - 1);
  file.finish();
}

void need_profile(DiffCommandOptions const& request) {
  for (auto const& [option, file] :
       {std::pair{"--report", &request.report}, std::pair{"--picture", &request.picture}}) {
    if (!file->empty() && request.profile.empty()) {
      throw CLI::ValidationError(
          "diff", fmt::format("{} needs --profile: without it no flow is known", option));
    }
  }
}

// The files asked for beside the table.
class DiffFiles {
 public:
  DiffFiles(DiffCommandOptions const& request, report::Melt melt) : request_(request) {
    std::vector others{request.original, request.adapted, request.profile};
    if (!request.csv.empty()) {
      csv_.emplace(
          request.csv,
          std::initializer_list<std::string>{request.original, request.adapted, request.profile});
      rows_.emplace(csv_->stream(), melt);
    }
    others.push_back(request.csv);
    if (!request.report.empty()) report_.emplace(request.report, others);
    others.push_back(request.report);
    if (!request.picture.empty()) picture_.emplace(request.picture, others);
  }
  [[nodiscard]] judge::RowSink* rows() { return rows_ ? &*rows_ : nullptr; }
  [[nodiscard]] judge::CellSink* cells() { return report_ || picture_ ? &path_ : nullptr; }
  // All of them whole, then all in their places.
  void finish(std::optional<profile::Profile> const& profile,
              judge::Judgement const& judgement,
              report::ChangeCounts const& counts,
              Notices const& notices) {
    if (csv_) csv_->finish();
    if (cells() != nullptr) path_.finish();
    if (picture_) write_picture(*picture_, request_, path_);
    if (report_) write_report(*report_, request_, *profile, judgement, counts, path_, notices);
    if (csv_) csv_->commit();
    if (report_) report_->commit();
    if (picture_) picture_->commit();
  }

 private:
  DiffCommandOptions const& request_;
  std::optional<CsvFile> csv_;
  std::optional<report::DiffCsv> rows_;
  std::optional<ReportFile> report_, picture_;
  page::PathRecord path_;
};

int run_diff(DiffCommandOptions const& request) {
  need_profile(request);
  std::optional<profile::Profile> profile;
  if (!request.profile.empty()) profile = profile::load(request.profile, load_options());
  auto const melt = profile ? report::Melt::known : report::Melt::unknown;
  report::DiffView view(request.all ? report::Show::all : report::Show::most_changed,
                        request.json ? report::Form::json : report::Form::text,
                        melt,
                        [](std::string_view text) { print(text); });
  DiffFiles files(request, melt);
  BothSinks sinks(view, files.rows());
  Notices notices;
  Task const task("comparing the files");
  judge::Judgement const judgement =
      judge::judge_files(request.original,
                         request.adapted,
                         profile ? judge_options(*profile) : common_options(),
                         notices,
                         &sinks,
                         files.cells());
  std::optional<report::MetricsTable> figures;
  if (profile) figures = metrics_table(judgement, *profile);
  view.finish(judgement.parting, figures);
  files.finish(profile, judgement, view.counts(), notices);
  bool const same = same_bytes(request.original, request.adapted);
  if (!request.json) {
    print_summary(judgement, view, profile);
    print_sameness(same, judgement, view.counts());
  }
  return same ? exit_done : exit_differs;
}

}  // namespace

void add_diff_command(CLI::App& app, int& status) {
  auto const request = std::make_shared<DiffCommandOptions>();
  CLI::App* const command =
      app.add_subcommand("diff",
                         "Show move by move what changed between two files.\n"
                         "Moves are matched by the head's path, not by line number.\n"
                         "Exit status: 0 the files are the same, 1 they differ, 2 trouble.\n"
                         "Example: meltlag diff part.gcode adapted.gcode --profile auger.toml");
  command->add_option("ORIGINAL", request->original, "The file as sliced")->required();
  command->add_option("ADAPTED", request->adapted, "What became of it")->required();
  command->add_option("--profile",
                      request->profile,
                      "The machine's profile: shows what comes out of the nozzle, and right times");
  command->add_option("--csv", request->csv, "Write one row for each move of the original");
  command->add_option("--report", request->report, std::string(report_help) + "; needs --profile");
  command->add_option("--picture",
                      request->picture,
                      "Draw one layer of both files, from above (SVG); needs --profile");
  command->add_option("--layer", request->layer, "Which layer to draw, from 1; default 1")
      ->check(CLI::PositiveNumber);
  command->add_flag("--json", request->json, "Print the table as JSON");
  command->add_flag("--all", request->all, "Show every move, not only those that changed most");
  command->callback([request, &status] { status = run_diff(*request); });
}

}  // namespace meltlag::cli
