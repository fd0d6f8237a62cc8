// SPDX-License-Identifier: MIT
#include "meltlag/adapt/bead_widths.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "meltlag/base/vec.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "meltlag/melt/bead.hpp"

namespace meltlag::adapt {
namespace {

constexpr double section_step_mm2 = 0.001, widest_mm2 = 20, height_step_mm = 0.01;
constexpr double highest_layer_mm = 3;  // farther down another object lies, or nothing

// Wider than that nobody asks for a bead: of the nozzle, and of the layer's height where the nozzle
// is not known (common practice: 1 to 1.6 times the nozzle, layers no lower than an eighth of it).
constexpr double wide_of_nozzle = 2, wide_of_height = 8;
// What a bead may be if E is mm³, of the same two.
constexpr double least_of_nozzle = 0.5, most_of_nozzle = 2;
constexpr double least_of_height = 1, most_of_height = 6;

class Survey final : public gcode::MeaningSink {
 public:
  explicit Survey(double slicer_diameter_mm) : widths(slicer_diameter_mm) {}
  void on_move(gcode::Move const& move) override { widths.take(move); }

  BeadWidths widths;
};

}  // namespace

BeadWidths::BeadWidths(double slicer_diameter_mm) : area_mm2_(circle_area(slicer_diameter_mm)) {}

void BeadWidths::take(gcode::Move const& move) {
  if (move.kind != gcode::MoveKind::print || move.length_mm <= 0) return;
  bool const begins = layers_.take(move), first = layers_.count() == 1;
  double const height = layers_.height_mm();
  if (layers_.climbs()) return;
  if (begins && !first && height > 0) ++heights_[std::lround(height / height_step_mm)];
  if (height <= 0 || height > highest_layer_mm) return;
  double const section = std::min(widest_mm2, move.volume_mm3 / move.length_mm);
  lengths_[{
      std::lround(section / section_step_mm2), std::lround(height / height_step_mm), first}] +=
      move.length_mm;
}

// Where layers are missing below (a cut file, another object) a bead is no higher than usual.
double BeadWidths::height_of(long steps, bool first_layer) const {
  constexpr double missing = 1.5;
  auto const usual =
      std::ranges::max_element(heights_, {}, [](auto const& height) { return height.second; });
  bool const gap = !first_layer && usual != heights_.end() &&
                   static_cast<double>(steps) > missing * static_cast<double>(usual->first);
  return height_step_mm * static_cast<double>(gap ? usual->first : steps);
}

WidthFacts BeadWidths::facts_of(bool with_first_layer) const {
  struct Bead {
    double width_mm, length_mm;
  };
  std::vector<Bead> beads;
  double length = 0, sections = 0, heights = 0;
  for (auto const& [key, bead_mm] : lengths_) {
    auto const& [section_steps, height_steps, first_layer] = key;
    if (first_layer && !with_first_layer) continue;
    double const section = section_step_mm2 * static_cast<double>(section_steps);
    double const height = height_of(height_steps, first_layer);
    beads.push_back({melt::bead_width_mm(section, height), bead_mm});
    length += bead_mm;
    sections += section * bead_mm;
    heights += height * bead_mm;
  }
  if (length <= 0) return {};
  std::ranges::sort(beads, {}, &Bead::width_mm);
  auto const quantile = [&](double share) {
    double sum = 0;
    for (Bead const& bead : beads)
      if ((sum += bead.length_mm) >= share * length) return bead.width_mm;
    return beads.back().width_mm;
  };
  double const height = heights / length;
  return {.least_mm = quantile(0.05),
          .usual_mm = quantile(0.5),
          .most_mm = quantile(0.95),
          .usual_height_mm = height,
          .volumetric_usual_mm = melt::bead_width_mm(sections / length / area_mm2_, height)};
}

WidthFacts BeadWidths::facts() const { return facts_of(true); }

WidthFacts BeadWidths::upper_facts() const { return facts_of(layers_.count() < 2); }

std::string looks_volumetric(WidthFacts const& w, std::optional<double> nozzle_mm) {
  if (w.usual_mm <= 0) return {};
  bool const wide = nozzle_mm ? w.usual_mm > wide_of_nozzle * *nozzle_mm
                              : w.usual_mm > wide_of_height * w.usual_height_mm;
  double const as_volume = w.volumetric_usual_mm;
  bool const plausible = nozzle_mm ? as_volume > least_of_nozzle * *nozzle_mm &&
                                         as_volume < most_of_nozzle * *nozzle_mm
                                   : as_volume > least_of_height * w.usual_height_mm &&
                                         as_volume < most_of_height * w.usual_height_mm;
  if (!wide || !plausible) return {};
  return fmt::format(
      "beads would be {:.1f} mm wide at {:.2f} mm of height{}; if E were mm³ they would be {:.1f} "
      "mm: "
      "either the slicer writes E as a volume (then M200 with the filament's diameter has to stand "
      "in its start code, for the printer too), or its nozzle or flow is set wrong",
      w.usual_mm,
      w.usual_height_mm,
      nozzle_mm ? fmt::format(" from a nozzle of {:g} mm", *nozzle_mm) : std::string{},
      as_volume);
}

bool says_volumetric(gcode::Block const& block) {
  if (block.words.empty() || block.words[0].letter != 'M' || block.words[0].value != 200)
    return false;
  return std::ranges::any_of(
      block.words, [](gcode::Word const& word) { return word.letter == 'D' && word.value > 0; });
}

WidthSurvey survey_widths(std::string const& path, double slicer_diameter_mm, bool g91_covers_e) {
  Notices unused;
  gcode::ProgramReader reader(path, {slicer_diameter_mm, g91_covers_e}, unused);
  Survey survey(slicer_diameter_mm);
  WidthSurvey out;
  while (reader.next()) {
    out.volumetric_said = out.volumetric_said || says_volumetric(reader.block());
    reader.interpret(survey);
  }
  out.widths = survey.widths.facts();
  out.upper = survey.widths.upper_facts();
  return out;
}

}  // namespace meltlag::adapt
