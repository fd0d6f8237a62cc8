// SPDX-License-Identifier: MIT
#include "meltlag/report/path_page.hpp"

#include <fmt/format.h>

#include <cmath>

#include "meltlag/base/vec.hpp"
#include "meltlag/report/html_blocks.hpp"
#include "path_data.hpp"

namespace meltlag::report {
namespace {

using adapt::Figure;

// Rows of the headline: a name, then what it is before and after.
class FigureRows {
 public:
  explicit FigureRows(FigureTable const& figures) : figures_(figures) {}

  // `key`: of --json's figures; empty where the text shows none of them alone.
  template <class Text>
  void add(std::string const& name, std::string const& key, Text text) {
    std::vector<HtmlCell> row = {{name}, cell("as_sliced.", key, text(figures_.as_sliced))};
    if (figures_.adapted) row.push_back(cell("adapted.", key, text(*figures_.adapted)));
    rows_.push_back(std::move(row));
  }
  [[nodiscard]] HtmlTable table() const {
    HtmlTable out{.caption = "", .columns = {{"", "", Align::left}}, .rows = rows_};
    out.columns.push_back({figures_.adapted ? "as sliced" : "this file", "", Align::left});
    if (figures_.adapted) out.columns.push_back({"adapted", "", Align::left});
    return out;
  }

 private:
  static HtmlCell cell(std::string const& side, std::string const& key, std::string text) {
    return {std::move(text), key.empty() ? "" : side + key};
  }
  FigureTable const& figures_;
  std::vector<std::vector<HtmlCell>> rows_;
};

std::string signed_percent(double share) { return fmt::format("{:+.0f} %", 100 * share); }

void add_plastic(FigureRows& rows) {
  rows.add("misplaced plastic", "misplaced_share", [](Figure const& f) {
    return percent(f.misplaced_share());
  });
  rows.add("bead error (rms)", "bead_error_share", [](Figure const& f) {
    return percent(f.bead_error());
  });
  rows.add("largest bead error over 2 mm", "bead_error_largest_share", [](Figure const& f) {
    return signed_percent(f.bead_error_largest);
  });
  rows.add("stops", "stops", [](Figure const& f) { return fmt::format("{}", f.stops); });
  rows.add(
      "of them with a knob", "knobs", [](Figure const& f) { return fmt::format("{}", f.knobs); });
  rows.add("knob, mean", "knob_mean_mm3", [](Figure const& f) {
    return f.knobs == 0 ? "none" : fmt::format("{:.3f} mm³", f.knob_mean_mm3());
  });
  rows.add("as a ball", "knob_mean_ball_mm", [](Figure const& f) {
    return f.knobs == 0 ? "none" : fmt::format("{:.2f} mm", ball_diameter(f.knob_mean_mm3()));
  });
  rows.add("starts", "starts", [](Figure const& f) { return fmt::format("{}", f.starts); });
  rows.add("of them with a gap", "gaps", [](Figure const& f) { return fmt::format("{}", f.gaps); });
  rows.add("gap, mean", "gap_mean_mm", [](Figure const& f) {
    return f.gaps == 0 ? "none" : fmt::format("{:.1f} mm", f.gap_mean_mm());
  });
}

void add_screw(FigureRows& rows, FigureTable const& figures) {
  rows.add("peak screw rate", "peak_e_mm_s", [](Figure const& f) {
    return fmt::format("{:.1f} mm/s of E", f.peak_e_mm_s);
  });
  rows.add("peak flow fed forward", "peak_forward_mm3_s", [](Figure const& f) {
    return fmt::format("{:.1f} mm³/s", f.peak_forward_mm3_s);
  });
  rows.add("peak run-on", "peak_run_on_mm3", [](Figure const& f) {
    return fmt::format("{:.2f} mm³", f.peak_run_on_mm3);
  });
  if (figures.parts) {
    melt::PartsLag const& parts = *figures.parts;
    rows.add("peak pressure", "peak_pressure_mpa", [&](Figure const& f) {
      return fmt::format("{:.2f} MPa", melt::pressure_at_run_on_mpa(parts, f.peak_run_on_mm3));
    });
    rows.add("peak thrust", "peak_thrust_n", [&](Figure const& f) {
      double const p = melt::pressure_at_run_on_mpa(parts, f.peak_run_on_mm3);
      return fmt::format("{:.0f} N", p * parts.area.bore_mm2);
    });
  }
  rows.add("planned time", "planned_s", [](Figure const& f) { return duration(f.planned_s); });
  rows.add("lines", "lines", [](Figure const& f) { return fmt::format("{}", f.lines); });
}

// Of all plastic: what the machine would misplace, and what of that the other way of turning the
// screw hides.
void write_shares_of_plastic(Out const& out, FigureTable const& figures) {
  double const before = figures.as_sliced.misplaced_share();
  if (!figures.adapted || before <= 0) return;
  double const after = figures.adapted->misplaced_share();
  std::string const hidden = fmt::format("{} points, {:.0f} % of what the hardware misplaces",
                                         number(100 * (before - after), 1),
                                         100 * (before - after) / before);
  write_shares(
      out,
      {.caption =
           fmt::format("The hardware, as sliced, misplaces {} of the plastic:", percent(before)),
       .shares = {{"hidden by turning the screw differently", (before - after) / before, hidden},
                  {"left over", after / before, percent(after) + " of the plastic"}}});
}

void write_headline(HtmlPage& html, PathPage const& page) {
  Out const& out = html.out();
  FigureTable const& figures = page.figures;
  html.section("headline", "What lands where it should not", "");
  if (figures.as_sliced.wanted_mm3 <= 0) {
    html.paragraph("The file extrudes nothing while the head moves.");
  } else {
    std::string big = percent(figures.as_sliced.misplaced_share());
    if (figures.adapted) {
      big = fmt::format("<span class=\"before\">{}</span> → <span class=\"after\">{}</span>",
                        big,
                        percent(figures.adapted->misplaced_share()));
    }
    out("<p class=\"big\">" + big + " <small>of the plastic is misplaced</small></p>\n");
    write_shares_of_plastic(out, figures);
  }
  FigureRows rows(figures);
  if (figures.as_sliced.wanted_mm3 > 0) add_plastic(rows);
  add_screw(rows, figures);
  write_table(out, rows.table());
  for (std::string const& remark : page.remarks) html.paragraph(remark);
}

void write_changes(HtmlPage& html, ChangeCounts const& counts) {
  html.section(
      "changes",
      "What became of the moves",
      fmt::format("{} moves of the original, {} of them changed.", counts.moves, counts.changed));
  HtmlShares shares{.caption = "Moves of the original", .shares = {}};
  for (int i = 0; i < adapt::change_kinds; ++i) {
    std::int64_t const count = counts.of[static_cast<std::size_t>(i)];
    if (count == 0) continue;
    shares.shares.push_back({std::string(adapt::name_of(static_cast<adapt::Change>(i))),
                             static_cast<double>(count) / static_cast<double>(counts.moves),
                             std::to_string(count)});
  }
  write_shares(html.out(), shares);
}

// What the scripts fill. Without scripts a sentence stands there.
constexpr std::string_view flow_frame = R"(<noscript><p>The pictures need scripts.</p></noscript>
<div class="tools" id="flow-tools"></div>
<div id="flow"></div>
<p class="readout" id="flow-readout" aria-live="polite"></p>
)";
constexpr std::string_view bed_frame = R"(<div class="tools" id="bed-tools"></div>
<div id="bed"></div>
<p class="readout" id="bed-readout" aria-live="polite"></p>
)";

void write_pictures(HtmlPage& html, Files files) {
  bool const two = files == Files::two;
  html.section(
      "flow-section",
      "Flow over time",
      two ? "Both files are laid along the same path: what the file as sliced does is shown at the "
            "moment when the other one passes the same place. From afar the line is the mean, the "
            "band around it the range."
          : "From afar the line is the mean, the band around it the range.");
  html.out()(flow_frame);
  html.section("bed-section",
               "The bed, layer by layer",
               two ? "Beads in their true width, as sliced and adapted. Behind each is the wanted "
                     "bead; the colour says how far the width is off."
                   : "Beads in their true width. Behind each is the wanted bead; the colour says "
                     "how far the width is off.");
  html.out()(bed_frame);
  html.section("worst-section",
               "The worst twenty places",
               "Watch for these at the machine. A place shows itself above when it is chosen.");
  html.out()("<div id=\"worst\"></div>\n");
}

std::vector<std::string> cautions_of(PathPage const& page, PathRecord const& path) {
  std::vector<std::string> out = page.cautions;
  out.emplace_back(
      "All of this is predicted from the profile, nothing is measured: a profile that is wrong "
      "by 30 % moves the figures by several points.");
  out.emplace_back(
      "Widths are section divided by layer height, as if each bead had straight sides; beads "
      "beside each other are not squeezed. What leaves the nozzle at standstill is drawn into the "
      "bead next to it.");
  out.push_back(fmt::format(
      "In the pictures neighbouring pieces of the path that differ by less than {:.0f} % are drawn "
      "as one; the figures and the list of places are exact.",
      100 * path.tolerance()));
  if (page.figures.parts) {
    out.emplace_back("Thrust is pressure times the bore's area; the true area is a little less.");
  }
  return out;
}

std::string subtitle_of(PathPage const& page) {
  return fmt::format("{} · profile: {} · meltlag {} {}",
                     page.file,
                     page.profile_title,
                     page.version,
                     page.command);
}

}  // namespace

void write_page(Out const& out, PathPage const& page, PathRecord const& path) {
  Files const files = page.figures.adapted ? Files::two : Files::one;
  HtmlPage html(
      out,
      {.title = files == Files::two ? "As sliced and adapted" : "What this file lays down",
       .subtitle = subtitle_of(page)});
  write_headline(html, page);
  if (page.changes) write_changes(html, *page.changes);
  bool const shows = page.figures.as_sliced.wanted_mm3 > 0 && !path.layers().empty();
  if (shows) write_pictures(html, files);
  html.section("cautions", "What to keep in mind", "");
  html.cautions(cautions_of(page, path), page.notices);
  html.section("profile", "The profile", "");
  html.profile(page.profile_title, page.profile_text);
  if (shows) write_path_data(out, path, files);
  html.finish();
}

}  // namespace meltlag::report
