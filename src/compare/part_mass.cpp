// SPDX-License-Identifier: MIT
#include "meltlag/compare/part_mass.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/purge.hpp"
#include "simulated_print.hpp"

namespace meltlag::compare {
namespace {

// Where the part begins on the way, and what is purged from there on.
class PartFinder : public gcode::MeaningSink {
 public:
  void on_move(gcode::Move const& move) override {
    double const purged = purges_.purged_mm3(move);
    purge_lines_.take(move);
    if (move.kind == gcode::MoveKind::e_only) {
      // At the very place of the first bead it would be counted as part of it.
      (prints ? purged_mm3 : purged_here_) += purged;
      return;
    }
    if (!prints && move.kind == gcode::MoveKind::print) {
      prints = true;
      from_mm = way_mm;
      purged_mm3 += purged_here_;
    }
    purged_here_ = 0;
    way_mm += move.length_mm;
  }

  // A line that purges before the part lies elsewhere too.
  void finish() { from_mm = std::max(from_mm, purge_lines_.purge_line().way_mm); }

  bool prints = false;
  double from_mm = 0, way_mm = 0, purged_mm3 = 0;

 private:
  gcode::PurgeCounter purges_;
  gcode::PurgeLineFinder purge_lines_;
  double purged_here_ = 0;
};

}  // namespace

PartMass weigh_part(std::string const& printed,
                    double mass_g,
                    CompareOptions const& options,
                    Notices& notices) {
  if (!options.density_g_cm3)
    throw Error("the density of the plastic is not known",
                {.file = printed},
                "add density_g_cm3 to [material], or --density G_CM3");
  PartFinder part;
  gcode::ProgramReader(printed, motion::read_options(options.program), notices).read_all(part);
  part.finish();
  if (!part.prints)
    throw Error("the file extrudes nothing while the head moves", {.file = printed}, "");
  Marks const marks{.ways_mm = {part.from_mm, part.way_mm}, .times_s = {}};
  Notices told_already;
  SimulatedPrint const laid =
      simulate_print(printed, std::span(&options.plant, 1), marks, options.program, told_already);
  double const factor = options.plant.feed.delivered_factor;
  double const per_mm3 = *options.density_g_cm3 / 1000;
  PartMass out{.mass_g = mass_g, .profile_factor = factor};
  out.purged_g = factor * part.purged_mm3 * per_mm3;
  out.predicted_g = laid.out_between(0, 1, 0) * per_mm3 - out.purged_g;
  out.delivered_factor = factor * mass_g / out.predicted_g;
  out.delivered_factor_sd =
      out.delivered_factor * std::hypot(options.tools.mass_g / mass_g, options.tools.density_share);
  return out;
}

}  // namespace meltlag::compare
