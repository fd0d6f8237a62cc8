// SPDX-License-Identifier: MIT
#include "builds_command.hpp"

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "build_rows.hpp"
#include "meltlag/page/cause_pages.hpp"
#include "meltlag/report/metrics.hpp"
#include "output.hpp"
#include "profile_command.hpp"
#include "report_file.hpp"

namespace meltlag::cli {
namespace {

struct BuildsCommandOptions {
  std::vector<std::string> profiles;
  std::string report;
  double at_flow_mm3_s = 0;
  bool json = false;
};

void run_builds(BuildsCommandOptions const& request) {
  std::optional<ReportFile> file;
  if (!request.report.empty()) file.emplace(request.report, request.profiles);
  page::BuildsReport report{.version = MELTLAG_VERSION,
                            .builds = {.at_flow_mm3_s = request.at_flow_mm3_s, .builds = {}},
                            .profiles = {}};
  report::BuildsPage& page = report.builds;
  std::array<double, 3> flows{};
  for (std::string const& path : request.profiles) {
    profile::Profile const profile = profile::load(path, load_options());
    if (page.builds.empty()) {  // all builds at the first one's flows
      flows = three_flows(profile);
      if (page.at_flow_mm3_s == 0) page.at_flow_mm3_s = profile::lag_flow_mm3_s(profile);
    }
    page.builds.push_back(build_row(
        profile, {.at_flow_mm3_s = page.at_flow_mm3_s, .flows_mm3_s = flows, .file = {}}));
    if (file) report.profiles.push_back({profile.title, profile_text(path)});
  }
  if (file) {
    page::write_page(file->out(), report);
    file->commit();
  }
  print(request.json ? report::dump(report::to_json(page)) : report::to_text(page));
}

}  // namespace

void add_builds_command(CLI::App& app, int& status) {
  auto const request = std::make_shared<BuildsCommandOptions>();
  CLI::App* const command = app.add_subcommand(
      "builds",
      "List the builds of a machine, one row each.\n"
      "Date, run-on, lag at three flows, residence time, blobs and gaps as measured.\n"
      "Example: meltlag builds printed.toml braced.toml");
  command->add_option("PROFILE", request->profiles, "Profiles, the oldest build first")->required();
  command
      ->add_option("--at-flow", request->at_flow_mm3_s, "Flow for run-on and residence time, mm³/s")
      ->check(CLI::PositiveNumber)
      ->type_name("Q");
  command->add_option("--report", request->report, report_help);
  command->add_flag("--json", request->json, "Print it as JSON");
  command->callback([request, &status] {
    run_builds(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
