// SPDX-License-Identifier: MIT
#include "calibrate_scan.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "bar_options.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/scan.hpp"
#include "output.hpp"
#include "output_files.hpp"

namespace meltlag::cli {
namespace {

struct ScanCommandOptions {
  std::string file, output, overlay;
  std::vector<std::string> pictures;
  bool json = false, force = false;
  double every_mm = 1;
  scan::ScanOptions options;
};

void run_scan(ScanCommandOptions const& request) {
  Overwrite const overwrite = request.force ? Overwrite::allowed : Overwrite::refused;
  for (std::string const* path : {&request.output, &request.overlay})
    if (!path->empty()) refuse_to_overwrite(*path, overwrite);
  auto const overlay = request.overlay.empty() ? scan::Overlay::none : scan::Overlay::made;
  scan::ScanResult const result =
      request.pictures.size() == 1
          ? scan::scan_picture(request.file, request.pictures[0], request.options, overlay)
          : scan::scan_two_pictures(
                request.file, {request.pictures[0], request.pictures[1]}, request.options, overlay);
  write_new_files({{request.overlay, result.overlay_png},
                   {request.output, scan::write_scan_sheet(result, request.every_mm)}},
                  overwrite);
  if (request.json) return print(report::dump(report::to_json(result)));
  std::string text = report::to_text(result);
  if (!request.overlay.empty())
    text += fmt::format("\n{}: the picture with what was found; green is read, red left out\n",
                        request.overlay);
  print(text + fmt::format("\nNext: meltlag calibrate fit {} {} --profile PROFILE.toml \\\n"
                           "        --output NEW.toml\n",
                           request.file,
                           request.output));
}

}  // namespace

void add_calibrate_scan(CLI::App& calibrate, int& status) {
  auto const request = std::make_shared<ScanCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "scan",
      "Read the ring piece's widths from a picture of it on its page.\n"
      "Example: meltlag calibrate scan TEST.gcode scan.png --output SHEET.csv\n"
      "A scan as PNG or TIFF of 300 to 1200 dpi (as JPEG of 600 or more), or a photo\n"
      "from above of at least 8 million pixels. Any turn, either face. Uses at most\n"
      "300 MB.\n"
      "Granules that are clear, or some of them of the page's colour: give two\n"
      "pictures, one on a black and one on a white page.");
  command->add_option("TEST", request->file, "The G-code that was printed")->required();
  command
      ->add_option(
          "PICTURE", request->pictures, "The page with the piece on it; one or two of them")
      ->required()
      ->expected(1, 2);
  command->add_option("--output", request->output, "Sheet for calibrate fit to write (CSV)")
      ->required();
  command->add_option(
      "--overlay", request->overlay, "Also write what was found as a picture (PNG)");
  command->add_flag("--force", request->force, "Replace files that are there");
  command->add_flag("--json", request->json, "Print what was found as JSON");
  command->add_option("--every", request->every_mm, "Bead that a row is the mean of, mm (1)")
      ->check(CLI::Range(0.15, 20.0))
      ->type_name("MM");
  command->add_option("--nozzle", request->options.nozzle_mm, "Its diameter, mm (0.9)")
      ->check(CLI::Range(0.1, 5.0))
      ->type_name("MM");
  add_bar_options(*command, request->options.bar_x_mm, request->options.bar_y_mm);
  command->callback([request, &status] {
    run_scan(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
