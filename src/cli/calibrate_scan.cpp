// SPDX-License-Identifier: MIT
#include "calibrate_scan.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "meltlag/report/figures.hpp"
#include "meltlag/report/scan.hpp"
#include "output.hpp"
#include "output_files.hpp"

namespace meltlag::cli {
namespace {

struct ScanWords {
  std::string file, picture, output, overlay;
  bool json = false, force = false;
  double every_mm = 1;
  scan::ScanOptions options;
};

void run_scan(ScanWords const& words) {
  Overwrite const overwrite = words.force ? Overwrite::allowed : Overwrite::refused;
  for (std::string const* path : {&words.output, &words.overlay})
    if (!path->empty()) refuse_to_overwrite(*path, overwrite);
  scan::ScanResult const result =
      scan::scan_picture(words.file,
                         words.picture,
                         words.options,
                         words.overlay.empty() ? scan::Overlay::none : scan::Overlay::made);
  write_new_files({{words.overlay, result.overlay_png},
                   {words.output, scan::write_scan_sheet(result, words.every_mm)}},
                  overwrite);
  if (words.json) return print(report::dump(report::to_json(result)));
  std::string text = report::to_text(result);
  if (!words.overlay.empty())
    text += fmt::format("\n{}: the picture with what was found; green is read, red left out\n",
                        words.overlay);
  print(text + fmt::format("\nNext: meltlag calibrate fit {} {} --profile PROFILE.toml \\\n"
                           "        --output NEW.toml\n",
                           words.file,
                           words.output));
}

}  // namespace

void add_calibrate_scan(CLI::App& calibrate, int& status) {
  auto const words = std::make_shared<ScanWords>();
  CLI::App* const command = calibrate.add_subcommand(
      "scan",
      "Read the ring piece's widths from one picture of it on its page.\n"
      "Example: meltlag calibrate scan TEST.gcode scan.png --output SHEET.csv\n"
      "PNG, JPEG or TIFF: a scan of 300 to 1200 dpi, or a photo from above of at\n"
      "least 8 million pixels. Any turn, either face. Uses at most 300 MB.");
  command->add_option("TEST", words->file, "The G-code that was printed")->required();
  command->add_option("PICTURE", words->picture, "The page with the piece on it")->required();
  command->add_option("--output", words->output, "Sheet for calibrate fit to write (CSV)")
      ->required();
  command->add_option("--overlay", words->overlay, "Also write what was found as a picture (PNG)");
  command->add_flag("--force", words->force, "Replace files that are there");
  command->add_flag("--json", words->json, "Print what was found as JSON");
  command->add_option("--every", words->every_mm, "Bead that a row is the mean of, mm (1)")
      ->check(CLI::Range(0.15, 20.0))
      ->type_name("MM");
  command->add_option("--nozzle", words->options.nozzle_mm, "Its diameter, mm (0.9)")
      ->check(CLI::Range(0.1, 5.0))
      ->type_name("MM");
  command->add_option("--bar-x", words->options.bar_x_mm, "What the page's long bar measures (150)")
      ->check(CLI::Range(120.0, 180.0))
      ->type_name("MM");
  command->add_option("--bar-y", words->options.bar_y_mm, "What the bar at the left measures (150)")
      ->check(CLI::Range(120.0, 180.0))
      ->type_name("MM");
  command->callback([words, &status] {
    run_scan(*words);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
