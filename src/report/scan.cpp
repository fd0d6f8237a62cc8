// SPDX-License-Identifier: MIT
#include "meltlag/report/scan.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

constexpr double scale_to_tell =
    0.004;  // plastic shrinks by a few per mille; more is a page's scale
// Of rendered pictures in JPEG at 300 dpi, beads below this read 0.01 to 0.04 mm wide.
constexpr double coarse_pixel_mm = 0.06, fine_bead_pixels = 7.5;

std::string picture_text(scan::ScanResult const& result) {
  std::string out = fmt::format(
      "The picture: {} × {} pixels of {:.3f} mm ({:.0f} dpi), edges smeared over {:.2f} mm\n"
      "The page: {} marks, {:.3f} mm off a flat page{}\n"
      "The piece: face {}, turned by {:.1f}°, {:.2f} % of the file's size\n",
      result.picture_width,
      result.picture_height,
      result.pixel_mm,
      25.4 / result.pixel_mm,
      result.blur_mm,
      result.marks,
      result.marks_scatter_mm,
      result.picture_mirrored ? "; the picture is mirrored" : "",
      result.face_down ? "down" : "up",
      result.turn_deg,
      100 * result.piece_scale);
  if (!result.faint_picture.empty())
    out += list_item(fmt::format("Nothing stands out on {}: the other picture alone was read.",
                                 result.faint_picture));
  if (result.coarse_colour && result.pixel_mm > coarse_pixel_mm)
    out += list_item(fmt::format(
        "This JPEG blurs beads narrower than {:.1f} mm: they read up to 0.04 mm too wide, "
        "and the run-on a little small. Scan to PNG or TIFF, or at 600 dpi.",
        fine_bead_pixels * result.pixel_mm));
  if (std::abs(result.piece_scale - 1) > scale_to_tell)
    out +=
        list_item(fmt::format("Rings are {:.1f} % {} than the file has them. If the page was not "
                              "printed at 100 %, measure "
                              "its bars and give --bar-x and --bar-y: widths are off by as much.",
                              100 * std::abs(result.piece_scale - 1),
                              result.piece_scale > 1 ? "larger" : "smaller"));
  return out;
}

std::string doubt_text(scan::ScanResult const& result) {
  std::string out =
      fmt::format("\n{} of the path can be read; a single width scatters by {:.3f} mm\n",
                  percent(result.read_share),
                  result.scatter_mm);
  for (std::size_t i = 1; i < scan::doubt_count; ++i)
    if (result.places[i] > 0)
      out += list_item(fmt::format("left out, {}: {} of path",
                                   scan::name_of(static_cast<scan::Doubt>(i)),
                                   fmt::format("{:.1f} mm", 0.15 * result.places[i])));
  return out;
}

}  // namespace

std::string to_text(scan::ScanResult const& result) {
  std::string out = picture_text(result) + doubt_text(result);
  if (!result.runs.empty()) {
    out += "\nWhere the screw stood\n";
    Table const table({{"ring", "", 5}, {"line", "", 7}, {"tail", "mm", 8}, {"gap", "mm", 8}});
    out += table.header();
    for (scan::Run const& run : result.runs)
      table.append_row(out,
                       {fmt::format("{}", run.ring),
                        fmt::format("{}", run.stop_line),
                        run.tail_known ? fixed(run.tail_mm, 1) : "–",
                        run.gap_known ? fixed(run.gap_mm, 1) : "–"});
  }
  if (!result.blobs.empty()) {
    out += "\nBlobs where the screw turned at rest\n";
    Table const table({{"ring", "", 5}, {"line", "", 7}, {"area", "mm²", 8}});
    out += table.header();
    for (scan::Blob const& blob : result.blobs)
      table.append_row(
          out,
          {fmt::format("{}", blob.ring), fmt::format("{}", blob.line), fixed(blob.area_mm2, 2)});
  }
  return out;
}

nlohmann::json to_json(scan::ScanResult const& result) {
  nlohmann::json out = {{"picture_width", result.picture_width},
                        {"picture_height", result.picture_height},
                        {"pixel_mm", result.pixel_mm},
                        {"blur_mm", result.blur_mm},
                        {"coarse_colour", result.coarse_colour},
                        {"marks", result.marks},
                        {"marks_scatter_mm", result.marks_scatter_mm},
                        {"picture_mirrored", result.picture_mirrored},
                        {"face_down", result.face_down},
                        {"turn_deg", result.turn_deg},
                        {"piece_scale", result.piece_scale},
                        {"read_share", result.read_share},
                        {"scatter_mm", result.scatter_mm},
                        {"faint_picture", result.faint_picture}};
  for (std::size_t i = 1; i < scan::doubt_count; ++i)
    out["left_out"][scan::name_of(static_cast<scan::Doubt>(i))] = result.places[i];
  out["runs"] = nlohmann::json::array();
  for (scan::Run const& run : result.runs) {
    nlohmann::json row = {
        {"ring", run.ring}, {"stop_line", run.stop_line}, {"start_line", run.start_line}};
    if (run.tail_known) row["tail_mm"] = run.tail_mm;
    if (run.gap_known) row["gap_mm"] = run.gap_mm;
    out["runs"].push_back(row);
  }
  out["blobs"] = nlohmann::json::array();
  for (scan::Blob const& blob : result.blobs)
    out["blobs"].push_back({{"ring", blob.ring}, {"line", blob.line}, {"area_mm2", blob.area_mm2}});
  return out;
}

}  // namespace meltlag::report
