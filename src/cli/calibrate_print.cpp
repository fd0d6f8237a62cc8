// SPDX-License-Identifier: MIT
#include "calibrate_print.hpp"

#include <fmt/format.h>

#include <cmath>
#include <memory>
#include <optional>
#include <string>

#include "meltlag/base/error.hpp"
#include "meltlag/fit/plan_readings.hpp"
#include "meltlag/page/map.hpp"
#include "meltlag/page/ring_page.hpp"
#include "meltlag/profile/profile.hpp"
#include "meltlag/report/calibration.hpp"
#include "meltlag/report/table.hpp"
#include "meltlag/testpiece/hardware_piece.hpp"
#include "meltlag/testpiece/ring_piece.hpp"
#include "meltlag/testpiece/test_piece.hpp"
#include "output.hpp"
#include "output_files.hpp"
#include "profile_command.hpp"
#include "start_options.hpp"

namespace meltlag::cli {
namespace {

constexpr double widths_per_nozzle = 1.1, heights_per_nozzle = 0.33;
constexpr double usual_nozzle_mm = 0.9;
constexpr double least_height_mm = 0.15, most_height_mm = 0.4;

struct PrintCommandOptions {
  std::string profile, output, sheet, map;
  std::string start, end;
  bool plain_start = false, force = false, hardware = false, rings = false;
  std::string background, paper;  // empty: black, A4
  double retract_mm = 1;
  std::optional<double> retract_mm_s;
  int layers = 20, readings = 20;
  std::uint32_t seed = 1;
  std::string bed = "200x200";
  double margin_mm = 5;
  std::optional<double> layer_height_mm, width_mm, nozzle_c, bed_c, e_mm_per_turn, density_g_cm3;
  std::optional<double> slow_mm_s, medium_mm_s, fast_mm_s;
};

double rounded(double value, double step) { return std::round(value / step) * step; }

// "200x220" or "200": mm in X and Y.
void read_bed(std::string const& text, testpiece::PieceOptions& options) {
  double x = 0, y = 0;
  char cross = 0, more = 0;
  int const read = std::sscanf(text.c_str(), "%lf%c%lf%c", &x, &cross, &y, &more);
  bool const one = read == 1, two = read == 3 && (cross == 'x' || cross == 'X');
  if (!(one || two) || !(x > 0) || (two && !(y > 0)))
    throw CLI::ValidationError("--bed", "'" + text + "' is no size: type it as 200x220");
  options.bed_x_mm = x;
  options.bed_y_mm = two ? y : x;
}

testpiece::PieceOptions piece_options(PrintCommandOptions const& request,
                                      profile::Profile const& profile) {
  double const nozzle = profile.nozzle && profile.nozzle->diameter_mm > 0
                            ? profile.nozzle->diameter_mm
                            : usual_nozzle_mm;
  testpiece::PieceOptions options{.slicer_diameter_mm = profile.feed.slicer_diameter_mm,
                                  .limits = profile.limits};
  options.max_flow_mm3_s = profile.bounds.max_flow_mm3_s;
  options.e_mm_per_turn = request.e_mm_per_turn ? request.e_mm_per_turn : profile.e_mm_per_turn;
  options.min_speed_mm_s = profile.machine.min_speed_mm_s;
  read_bed(request.bed, options);
  options.margin_mm = request.margin_mm;
  options.layer_height_mm = request.layer_height_mm.value_or(
      std::clamp(rounded(heights_per_nozzle * nozzle, 0.05), least_height_mm, most_height_mm));
  options.bead_width_mm = request.width_mm.value_or(rounded(widths_per_nozzle * nozzle, 0.05));
  options.slow_mm_s = request.slow_mm_s.value_or(0);
  options.medium_mm_s = request.medium_mm_s.value_or(0);
  options.fast_mm_s = request.fast_mm_s.value_or(0);
  options.layers = request.layers;
  options.seed = request.seed;
  std::optional<double> warm = request.nozzle_c;
  if (!warm && profile.measured_lag) warm = profile.measured_lag->at_c;
  if (!warm) warm = profile.material.at_c;
  options.nozzle_c = warm.value_or(0);
  options.bed_c = request.bed_c.value_or(0);
  return options;
}

void take_start_and_end(PrintCommandOptions const& request, testpiece::PieceOptions& options) {
  bool const own = !request.start.empty() && !request.end.empty();
  if (!own && !request.plain_start)
    throw CLI::ValidationError(
        "--start",
        "the print needs your own start and end code: --start FILE --end FILE, or --plain-start "
        "for one that only heats and homes (it may be wrong for a cooled throat)");
  if (!request.start.empty()) options.start_code = read_text_file(request.start);
  if (!request.end.empty()) options.end_code = read_text_file(request.end);
}

constexpr std::string_view cautions =
    "\nThe nozzle is hot, hot plastic gives off fumes and axes move:\n"
    "stay with the print.\nThe material's data sheet and local rules come first.\n";

std::string what_was_written(PrintCommandOptions const& request,
                             testpiece::TestPiece const& piece,
                             fit::ReadingPlan const& plan) {
  std::string out = fmt::format(
      "{}: {:.0f} × {:.0f} mm, {} layers, {} and the heating\n"
      "  {:.0f} mm³ of plastic, and {:.0f} mm³ of purge before line one\n",
      request.output,
      piece.high_mm.x - piece.low_mm.x,
      piece.high_mm.y - piece.low_mm.y,
      request.layers,
      report::duration(piece.planned_s),
      piece.wanted_mm3,
      piece.purge_mm3);
  out += fmt::format("{}: {} rows, the {} widths first; rows left empty are skipped\n",
                     request.sheet,
                     plan.readings.size(),
                     plan.chosen);
  if (!request.map.empty())
    out += fmt::format("{}: print it at 100 % and lay the piece on it\n", request.map);
  for (std::string const& remark : piece.remarks) out += report::list_item(remark);
  out += "\n" + report::to_text(plan);
  return out + std::string(cautions) +
         fmt::format(
             "\nNext: print, measure, fill in the column value, then\n"
             "  meltlag calibrate fit {} {} --profile {} \\\n    --output NEW.toml\n",
             request.output,
             request.sheet,
             request.profile);
}

bool for_picture(PrintCommandOptions const& request) {
  return request.rings || (request.hardware && !request.map.empty());
}

std::string by_picture(PrintCommandOptions const& request) {
  std::string out;
  for (std::string const& line :
       {fmt::format("{}: print it at 100 % with a background that the plastic is not. Beads lie "
                    "loose, so print on it or on film over it, taped flat to the bed.",
                    request.map),
        std::string("Paper only on a bed that is cold or below 60 °C, no stop over it while the "
                    "nozzle is hot, someone beside it; heat-resistant film first."),
        std::string("Scan page and beads together at 300 dpi or more, one picture of each print.")})
    out += report::list_item(line);
  return out;
}

std::string by_calipers() {
  std::string out;
  for (char const* line :
       {"blob_mm: the greatest width across the blob at the bead's right end (calipers).",
        "bead_mm: the width of the same bead in its middle.",
        "gap_mm: from the tooth's tip beside the bead's left end to where the bead has half its "
        "width (ruler); 0 where nothing is missing."})
    out += report::list_item(line);
  return out;
}

std::string what_was_written(PrintCommandOptions const& request,
                             testpiece::HardwarePiece const& piece) {
  std::string out =
      fmt::format("{}: {:.0f} × {:.0f} mm, one layer, 24 beads with a start and a stop each, {}\n",
                  request.output,
                  piece.high_mm.x - piece.low_mm.x,
                  piece.high_mm.y - piece.low_mm.y,
                  report::duration(piece.planned_s));
  if (!for_picture(request)) out += fmt::format("{}: 24 rows to fill in\n", request.sheet);
  for (std::string const& remark : piece.remarks) out += report::list_item(remark);
  out += for_picture(request) ? by_picture(request) : by_calipers();
  for (char const* line :
       {"With a retract the blobs distinguish builds; a second file with --retract-mm 0 shows "
        "their gaps.",
        "Print this same file on every build, at least twice each; a new one may differ."})
    out += report::list_item(line);
  out += std::string(cautions);
  if (for_picture(request))
    return out + fmt::format(
                     "\nNext: print, take a picture of each print, then\n"
                     "  meltlag calibrate hardware {} --scan PICTURE --profile {} \\\n"
                     "    --output NEW.toml\n",
                     request.output,
                     request.profile);
  return out + fmt::format(
                   "\nNext: print, measure, fill in a copy of the sheet for each print, then\n"
                   "  meltlag calibrate hardware {} --profile {} \\\n    --output NEW.toml\n",
                   request.sheet,
                   request.profile);
}

std::string page_of(PrintCommandOptions const& request) {
  if (request.map.empty()) return "";
  auto const paper = request.paper == "letter" ? page::Paper::letter : page::Paper::a4;
  return page::make_ring_page(paper, request.background.empty() ? "black" : request.background);
}

void run_hardware(PrintCommandOptions const& request,
                  testpiece::PieceOptions const& options,
                  Overwrite overwrite) {
  testpiece::HardwarePiece const piece =
      testpiece::make_hardware_piece({.piece = options,
                                      .retract_mm = request.retract_mm,
                                      .retract_mm_s = request.retract_mm_s,
                                      .for_picture = for_picture(request)});
  NewFile const beside = for_picture(request)
                             ? NewFile{request.map, page_of(request)}
                             : NewFile{request.sheet, testpiece::write_hardware_sheet(piece)};
  write_new_files({beside, {request.output, piece.gcode}}, overwrite);
  print(what_was_written(request, piece));
}

std::string what_was_written(PrintCommandOptions const& request,
                             testpiece::RingPiece const& piece) {
  std::string out = fmt::format(
      "{}: {} rings, {:.1f} m of bead in one layer, {} and the heating\n"
      "  {:.0f} mm³ of plastic, and {:.0f} mm³ of purge before line one\n",
      request.output,
      piece.radii_mm.size(),
      piece.length_mm / 1000,
      report::duration(piece.planned_s),
      piece.wanted_mm3,
      piece.purge_mm3);
  if (!request.map.empty())
    out += fmt::format(
        "{}: the page that marks the picture; print it at 100 %, with a background\n"
        "  that the plastic is not\n",
        request.map);
  for (std::string const& remark : piece.remarks) out += report::list_item(remark);
  for (char const* line :
       {"Print on heat-resistant film, or on the page itself taped flat to the bed. Paper only on "
        "a "
        "bed that is cold or below 60 °C, no stop over it while the nozzle is hot, someone beside "
        "it.",
        "Do not clean up or lay straight what came loose: beads are followed as they lie.",
        "Scan page and piece together at 600 dpi, or take a photo straight from above."})
    out += report::list_item(line);
  return out + std::string(cautions) +
         fmt::format(
             "\nNext: print, take the picture, then\n"
             "  meltlag calibrate scan {} PICTURE --output SHEET.csv\n",
             request.output);
}

void run_rings(PrintCommandOptions const& request,
               testpiece::PieceOptions const& options,
               Overwrite overwrite) {
  testpiece::RingPiece const piece = testpiece::make_ring_piece(options);
  write_new_files({{request.map, page_of(request)}, {request.output, piece.gcode}}, overwrite);
  print(what_was_written(request, piece));
}

void run_fence(PrintCommandOptions const& request,
               profile::Profile const& profile,
               testpiece::PieceOptions const& options,
               Overwrite overwrite) {
  testpiece::TestPiece const piece = testpiece::make_test_piece(options);
  Notices notices;
  reading::PrintedPath const path =
      reading::read_path(gcode::LineSource::from_text(piece.gcode, request.output),
                         {.slicer_diameter_mm = options.slicer_diameter_mm,
                          .limits = options.limits,
                          .g91_covers_e = profile.machine.g91_covers_e},
                         notices);
  double const density = request.density_g_cm3.value_or(profile.material.density_g_cm3.value_or(0));
  fit::ReadingPlan const plan = fit::plan_readings(
      piece,
      path,
      {.feed = profile.feed,
       .readings = request.readings,
       .predictor = {.layer_height_mm = options.layer_height_mm, .density_g_cm3 = density}});
  std::vector<page::MapMark> marks;
  for (reading::Reading const& reading : plan.readings)
    if (reading.kind != reading::ReadingKind::mass && reading.row <= plan.chosen)
      marks.push_back({reading.row, std::stoi(reading.trace), reading.ruler_mm});

  write_new_files({{request.map, request.map.empty() ? "" : page::make_map(piece, marks)},
                   {request.sheet, reading::write_sheet(plan.readings)},
                   {request.output, piece.gcode}},
                  overwrite);
  print(what_was_written(request, piece, plan));
}

void run_print(PrintCommandOptions request) {
  profile::Profile const profile = profile::load(request.profile, load_options());
  testpiece::PieceOptions options = piece_options(request, profile);
  take_start_and_end(request, options);
  if (request.output.empty()) request.output = request.hardware ? "HW.gcode" : "TEST.gcode";
  if (for_picture(request) && !request.sheet.empty())
    throw CLI::ValidationError("SHEET", "the picture takes its place: give none here");
  if (!for_picture(request) && !(request.background + request.paper).empty())
    throw CLI::ValidationError("--background",
                               "it and --paper are of the page for pictures: of --rings, or of "
                               "--hardware with --map");
  if (request.sheet.empty()) request.sheet = request.hardware ? "HW.csv" : "SHEET.csv";
  Overwrite const overwrite = request.force ? Overwrite::allowed : Overwrite::refused;
  for (std::string const* path : {&request.output, &request.sheet, &request.map})
    if (!path->empty() && !(for_picture(request) && path == &request.sheet))
      refuse_to_overwrite(*path, overwrite);
  if (request.hardware) return run_hardware(request, options, overwrite);
  if (request.rings) return run_rings(request, options, overwrite);
  run_fence(request, profile, options, overwrite);
}

void add_files(CLI::App& command, PrintCommandOptions& request) {
  command.add_option("TEST,--output", request.output, "G-code to write (TEST.gcode)");
  command.add_option("SHEET,--sheet", request.sheet, "Measurement sheet to write (SHEET.csv)");
  command.add_option("--map", request.map, "Also write a page at 1:1 to lay the piece on (SVG)");
  command.add_option("--profile", request.profile, "The machine's profile: [feed] and [machine]")
      ->required();
  add_start_options(command, request.start, request.end, request.plain_start);
  for (char const* const name : {"--start", "--end"})
    command.get_option(name)->check(CLI::ExistingFile);
  command.add_flag("--force", request.force, "Replace files that are there");
}

void add_sizes(CLI::App& command, PrintCommandOptions& request) {
  command.add_option("--readings", request.readings, "Widths to measure (20)")
      ->check(CLI::Range(5, 200))
      ->type_name("N");
  command.add_option("--layers", request.layers, "Layers of the fence (20)")
      ->check(CLI::Range(3, 100))
      ->type_name("N");
  command.add_option("--seed", request.seed, "Shuffles the order of the groups (1)")
      ->type_name("N");
  command.add_option("--bed", request.bed, "Size of the bed, mm (200x200)")->type_name("XxY");
  command.add_option("--margin", request.margin_mm, "Kept free at the bed's edges, mm (5)")
      ->type_name("MM");
  command.add_option("--layer-height", request.layer_height_mm, "mm (a third of the nozzle)")
      ->type_name("MM");
  command.add_option("--width", request.width_mm, "Bead, mm (1.1 of the nozzle)")->type_name("MM");
  command.add_option("--slow", request.slow_mm_s, "Slow speed, mm/s (for 2 mm³/s)")
      ->type_name("MM_S");
  command.add_option("--medium", request.medium_mm_s, "Medium speed, mm/s (for 4 mm³/s)")
      ->type_name("MM_S");
  command.add_option("--fast", request.fast_mm_s, "Fast speed, mm/s (for 8 mm³/s)")
      ->type_name("MM_S");
  command
      .add_option("--nozzle-c", request.nozzle_c, "Nozzle for the plain start, °C (the profile's)")
      ->type_name("C");
  command.add_option("--bed-c", request.bed_c, "Bed for the plain start, °C (0: unheated)")
      ->type_name("C");
  command.add_option("--e-per-turn", request.e_mm_per_turn, "E for one turn, mm (the profile's)")
      ->type_name("MM");
  command.add_option("--density", request.density_g_cm3, "g/cm³, to use a scale (the material's)")
      ->type_name("G_CM3");
}

void add_hardware(CLI::App& command, PrintCommandOptions& request) {
  CLI::Option* const hardware = command.add_flag(
      "--hardware", request.hardware, "Instead, 24 starts and stops as sliced (HW.gcode, HW.csv)");
  for (char const* flag : {"--readings", "--layers", "--slow", "--e-per-turn", "--density"})
    hardware->excludes(command.get_option(flag));
  command.add_option("--retract-mm", request.retract_mm, "Retract at stops, mm of E; 0: none (1)")
      ->type_name("MM")
      ->needs(hardware);
  command
      .add_option("--retract-speed", request.retract_mm_s, "Of E, mm/s (25, less if limits say so)")
      ->type_name("MM_S")
      ->needs(hardware);
}

void add_rings(CLI::App& command, PrintCommandOptions& request) {
  CLI::Option* const rings = command.add_flag(
      "--rings", request.rings, "Instead, one layer of rings that a scanner or camera reads");
  for (char const* flag : {"--hardware", "--readings", "--layers", "--density"})
    rings->excludes(command.get_option(flag));
  command
      .add_option("--background",
                  request.background,
                  "Of the page: black, white, blue, … or #rrggbb; not the plastic's colour (black)")
      ->type_name("COLOUR");
  command.add_option("--paper", request.paper, "a4 or letter (a4)")
      ->check(CLI::IsMember({"a4", "letter"}))
      ->type_name("SIZE");
}

}  // namespace

void add_calibrate_print(CLI::App& calibrate, int& status) {
  auto const request = std::make_shared<PrintCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "print",
      "Write the test piece: G-code, a sheet for what you measure, a map.\n"
      "Example: meltlag calibrate print TEST.gcode SHEET.csv --profile auger.toml\n"
      "         --map MAP.svg --start start.gcode --end end.gcode\n"
      "With --rings a piece for a picture instead of calipers, --map its page.\n"
      "With --hardware a piece without any lag law in between, to compare builds;\n"
      "--map makes its beads lie apart, for a picture on that page.");
  add_files(*command, *request);
  add_sizes(*command, *request);
  add_hardware(*command, *request);
  add_rings(*command, *request);
  command->callback([request, &status] {
    run_print(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
