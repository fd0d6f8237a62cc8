// SPDX-License-Identifier: MIT
// The part twice on one bed: whatever job comes of it goes the whole road.
#include <algorithm>

#include "meltlag/adapt/side_by_side.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"
#include "road.hpp"

namespace meltlag::fuzz {

namespace {

// The half that stays as sliced may ask the screw for what no machine can do. The printer then
// slows down as no plan foresees, and the check refuses the job: nothing to be promised.
class Steepest final : public gcode::MeaningSink {
 public:
  void on_move(gcode::Move const& move) override {
    if (move.length_mm > 0)
      e_mm_per_mm_ = std::max(e_mm_per_mm_, std::abs(move.e_mm) / move.length_mm);
  }
  void on_halt(gcode::Halt const&) override {}
  void on_setting(gcode::Setting const&) override {}
  [[nodiscard]] bool is_possible() const { return e_mm_per_mm_ < 1; }

 private:
  double e_mm_per_mm_ = 0;
};

bool is_possible(std::string_view text) {
  auto source = gcode::LineSource::from_text(text, "fuzz");
  Notices notices;
  gcode::Interpreter interpreter({.slicer_diameter_mm = 1.75}, notices);
  Steepest steepest;
  gcode::RawLine raw;
  gcode::Block block;
  while (source.next(raw)) {
    block.line = raw.line;
    block.line_break = raw.line_break;
    gcode::read_block(raw.text, block);
    (void)interpreter.interpret(block, steepest);
  }
  return steepest.is_possible();
}

}  // namespace

void try_bytes(std::string_view bytes) {
  static Files const files;
  if (bytes.empty()) return;
  files.write_original(bytes.substr(1));
  Notices notices;
  adapt::SideBySideJob const job =
      adapt::side_by_side(files.original, {.slicer_diameter_mm = 1.75}, notices);
  promise(std::ranges::count(job.text, '\n') == static_cast<std::ptrdiff_t>(job.lines.size()),
          "the lines of the job are not counted");
  promise(std::isfinite(job.offset_mm) && job.x_to_mm >= job.x_from_mm, "the copies are nowhere");
  if (!is_possible(bytes.substr(1))) return;
  files.write_original(job.text);
  auto options = options_of(static_cast<unsigned char>(bytes.front()));
  options.as_written = job.as_written;
  walk(files, options);
}

}  // namespace meltlag::fuzz
