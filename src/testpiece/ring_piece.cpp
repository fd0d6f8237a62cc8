// SPDX-License-Identifier: MIT
#include "meltlag/testpiece/ring_piece.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "ring_stretches.hpp"
#include "ring_text.hpp"
#include "ring_way.hpp"
#include "test_piece_plan.hpp"
#include "test_piece_settings.hpp"
#include "test_piece_text.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::testpiece {
namespace {

using namespace rings;
using piece::Bead;
using piece::Speeds;

constexpr double clear_of_join_mm = 8;  // no change of speed nearer to a radial step
constexpr double ring_approach_mm = 5;  // above the bed, before the first bead
constexpr int most_copies = 3;

struct RingDesign {
  PieceOptions const& options;
  Bead bead;
  Speeds speeds;
  Vec3 centre;
  double largest_mm = 0;  // radius that the bed allows
  double purge_mm = 0, lead_in_mm = 0;
  std::vector<std::string> remarks;
};

// What is printed, in this order, on so much way.
struct RingChoice {
  std::vector<Passage> passages;
  int copies = 0;
  double length_mm = 0;
};

double largest_ring_that_fits(PieceOptions const& options) {
  double const side = std::min(options.bed_x_mm, options.bed_y_mm);
  return std::min(largest_ring_mm,
                  std::floor(side / 2 - options.margin_mm - options.bead_width_mm));
}

RingDesign design_rings(PieceOptions const& options) {
  RingDesign design{options, piece::check_options(options), {}, {}, 0, 0, 0, {}};
  design.centre = {options.bed_x_mm / 2, options.bed_y_mm / 2, design.bead.height_mm};
  design.largest_mm = largest_ring_that_fits(options);
  piece::Layout layout{};
  layout.pitch_mm = ring_pitch_mm;
  design.speeds = piece::choose_speeds(options, design.bead, layout, design.remarks);
  double const purge_mm3 =
      std::max(piece::least_purge_mm3, piece::run_ons_of_purge * options.largest_run_on_mm3);
  // Chords are a little shorter than their arcs.
  design.purge_mm = 1.01 * purge_mm3 / design.bead.section_mm2;
  design.lead_in_mm = piece::lags_of_lead_in * options.largest_lag_s * design.speeds.medium_mm_s;
  return design;
}

void add_passages(RingChoice& choice, std::vector<Passage> passages) {
  for (Passage& passage : passages) {
    choice.length_mm += passage.length_mm() + 2 * clear_of_join_mm;
    choice.passages.push_back(std::move(passage));
  }
}

// As many copies as fit `length_mm`, then the bursts after the first copy, then the turns.
RingChoice choose_passages(RingDesign& design, double length_mm) {
  PieceOptions const& options = design.options;
  RingChoice choice{.passages = {}, .length_mm = design.purge_mm + design.lead_in_mm};
  Passage burst, turn;
  if (options.max_flow_mm3_s)
    burst = bursts(*options.max_flow_mm3_s, options, design.speeds, design.bead);
  if (options.e_mm_per_turn) turn = turns(*options.e_mm_per_turn, design.speeds, design.bead);
  for (int copy = 1; copy <= most_copies; ++copy) {
    RingChoice more = choice;
    add_passages(more, copy_of_groups(copy, options.seed, design.speeds, design.bead));
    if (more.length_mm > length_mm) break;
    choice = std::move(more);
    choice.copies = copy;
    if (copy > 1) continue;
    for (Passage const* extra : {&burst, &turn})
      if (!extra->stretches.empty() && choice.length_mm + extra->length_mm() < length_mm)
        add_passages(choice, {*extra});
  }
  return choice;
}

bool holds_group(RingChoice const& choice, char const* group) {
  return std::any_of(choice.passages.begin(), choice.passages.end(), [&](Passage const& p) {
    return p.group == group;
  });
}

class RingPrinter {
 public:
  RingPrinter(RingDesign const& design, Way const& way, RingPiece& piece, piece::Writer& writer)
      : design_(design), way_(way), piece_(piece), writer_(writer) {}

  void print(RingChoice const& choice) {
    double const medium = design_.speeds.medium_mm_s, e = design_.bead.e_mm_per_mm();
    Vec3 const start = design_.centre + way_.at(0);
    writer_.go(start + Vec3{0, 0, ring_approach_mm}, design_.speeds.travel_mm_s);
    writer_.go(start, design_.speeds.lift_mm_s);
    go_on("purge", 0, {design_.purge_mm, medium, e, "purge"});
    piece_.purge_mm3 = writer_.e_mm() * design_.bead.filament_mm2;
    go_on("lead-in", 0, {design_.lead_in_mm, medium, e, "lead-in"});
    piece_.lead_in_mm3 = writer_.e_mm() * design_.bead.filament_mm2 - piece_.purge_mm3;
    for (Passage const& passage : choice.passages) {
      go_on("link", 0, {link_mm, medium, e, "link"});
      for (piece::WallStretch const& stretch : passage.stretches)
        go_on(passage.group, passage.copy, stretch);
    }
    double const rest = way_.length_mm() - at_mm_;
    if (rest > 1) go_on("rest", 0, {rest, medium, e, "medium to the end"});
    piece_.wanted_mm3 = writer_.e_mm() * design_.bead.filament_mm2 - piece_.purge_mm3;
  }

 private:
  void go_on(std::string const& group, int copy, piece::WallStretch const& stretch) {
    if (stretch.turn_first_e_mm != 0)
      writer_.turn(stretch.turn_first_e_mm, design_.speeds.turn_e_mm_s);
    // A stretch without plastic keeps its length: a longer one would run the nozzle dry.
    double to = at_mm_ + stretch.length_mm;
    if (stretch.e_mm_per_mm > 0) to = way_.clear_of_joins(to, clear_of_join_mm);
    to = std::min(to, way_.length_mm());
    RingStretch out{.group = group,
                    .copy = copy,
                    .about = stretch.about,
                    .from_mm = at_mm_,
                    .to_mm = to,
                    .speed_mm_s = stretch.speed_mm_s,
                    .e_mm_per_mm = stretch.e_mm_per_mm,
                    .lines = {}};
    int ring = 0;
    for (Corner const& corner : way_.corners(at_mm_, to)) {
      if (corner.ring != ring && !corner.joins) name(ring = corner.ring, group, copy);
      Vec3 const place = design_.centre + corner.place;
      out.lines.push_back(stretch.e_mm_per_mm > 0
                              ? writer_.print(place, stretch.e_mm_per_mm, stretch.speed_mm_s)
                              : writer_.go(place, stretch.speed_mm_s));
    }
    at_mm_ = to;
    piece_.stretches.push_back(std::move(out));
  }

  // The comment that read_path() takes for the lines after it.
  void name(int ring, std::string const& group, int copy) {
    writer_.comment(group == "purge" || group == "lead-in"
                        ? fmt::format("{}, layer 1", group)
                        : fmt::format("trace {}: {}, copy {}, layer 1", ring, group, copy));
  }

  RingDesign const& design_;
  Way const& way_;
  RingPiece& piece_;
  piece::Writer& writer_;
  double at_mm_ = 0;
};

void write_rings(RingDesign const& design,
                 RingChoice const& choice,
                 Way const& way,
                 RingPiece& piece) {
  piece.stretches.clear();
  piece::Writer writer;
  write_ring_head(writer, design.options, piece, design.speeds, design.bead);
  piece::write_start(writer, design.options, design.speeds);
  RingPrinter(design, way, piece, writer).print(choice);
  piece::write_end(writer, design.options, design.speeds);
  piece.gcode = writer.take();
}

// One piece on these rings; its time is left in planned_s.
RingPiece make_rings(RingDesign& design, std::vector<double> const& radii) {
  Way const way(radii);
  RingChoice const choice = choose_passages(design, way.length_mm());
  RingPiece piece;
  piece.radii_mm = radii;
  piece.centre_mm = design.centre;
  piece.length_mm = way.length_mm();
  piece.bead_width_mm = design.bead.width_mm;
  piece.section_mm2 = design.bead.section_mm2;
  piece.copies = choice.copies;
  if (choice.copies == 0) return piece;
  write_rings(design, choice, way, piece);
  piece.planned_s = piece::plan(piece.gcode, design.options).duration_s;
  write_rings(design, choice, way, piece);  // now that volume and time are known
  PieceOptions const& options = design.options;
  if (!options.max_flow_mm3_s)
    piece.remarks.emplace_back(
        "No bursts: the profile does not say what the screw feeds for long "
        "(max_flow_mm3_s).");
  else if (!holds_group(choice, "burst"))
    piece.remarks.emplace_back("No bursts: they do not fit, or the axes cannot go so fast.");
  if (options.e_mm_per_turn && !holds_group(choice, "turns"))
    piece.remarks.push_back(
        fmt::format("No stretch of {:g} turns: it does not fit beside the groups.", turns_at_rest));
  return piece;
}

void state_cost(RingPiece& piece) {
  if (piece.copies == most_copies) return;
  piece.wider = std::sqrt(static_cast<double>(most_copies) / piece.copies);
  piece.remarks.push_back(fmt::format(
      "{} of {} copies of the groups fit {} rings ({:.1f} m): the ± of the run-on is about {:.1f} "
      "times that of a whole piece, and drift of the feed is seen less well.",
      piece.copies,
      most_copies,
      piece.radii_mm.size(),
      piece.length_mm / 1000,
      piece.wider));
}

[[noreturn]] void refuse_small(RingDesign const& design) {
  throw Error(fmt::format("not one copy of the groups fits rings of {:.0f} mm radius within {:.0f} "
                          "minutes",
                          design.largest_mm,
                          longest_ring_print_s / 60),
              {},
              "Give the bed's true size with --bed, a smaller --margin, or higher speeds; else "
              "print the fence for calipers.");
}

}  // namespace

RingPiece make_ring_piece(PieceOptions const& options) {
  RingDesign design = design_rings(options);
  std::vector<double> radii = radii_from(design.largest_mm);
  RingPiece piece;
  // The innermost rings are given up first where time is short: they are the most curved ones.
  while (!radii.empty()) {
    piece = make_rings(design, radii);
    if (piece.copies > 0 && piece.planned_s <= longest_ring_print_s) break;
    if (piece.copies == 0) refuse_small(design);
    radii.pop_back();
  }
  if (radii.empty()) refuse_small(design);
  state_cost(piece);
  piece.remarks.insert(piece.remarks.begin(), design.remarks.begin(), design.remarks.end());
  return piece;
}

}  // namespace meltlag::testpiece
