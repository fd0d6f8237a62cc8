// SPDX-License-Identifier: MIT
// The sheets that are filled in beside a print, and amounts typed after an option.
#include <cmath>

#include "meltlag/base/sheet.hpp"
#include "meltlag/compare/measured.hpp"
#include "meltlag/compare/ticks.hpp"
#include "meltlag/fit/hardware.hpp"
#include "meltlag/testpiece/feed.hpp"
#include "target.hpp"

namespace meltlag::fuzz {
namespace {

void try_measured(Sheet const& sheet) {
  for (compare::MeasuredRow const& row : compare::read_measured(sheet)) {
    promise(std::isfinite(row.value), "a measured value is not finite");
    promise(compare::by_time(row.kind) || (row.line > 0 && row.to_line >= row.line),
            "a row stands on no line");
    promise(std::isfinite(row.t_s) && row.place.line > 0, "a row has no moment or no place");
  }
}

void try_ticks(Sheet const& sheet) {
  compare::Ticks const ticks = compare::count_ticks(sheet);
  promise(ticks.by_chance >= 0 && ticks.by_chance <= 1, "a probability is none");
  promise(ticks.rate.hits <= ticks.rate.of, "more hits than looks");
}

void try_hardware(Sheet const& sheet) {
  fit::HardwareSheet const print = fit::read_hardware_sheet(sheet);
  fit::HardwareSpread const spread = fit::spread_of(print);
  for (fit::Spread const& all : {spread.blob_mm3, spread.gap_mm})
    promise(std::isfinite(all.mean) && all.sd >= 0, "a mean is not finite");
  (void)fit::without_flow(print, &fit::HardwareReading::blob_mm3);
  promise(fit::same_file(print, print), "a print is not of its own file");
}

// One that refuses the sheet must not keep the others from it.
void try_one(void (*reader)(Sheet const&), Sheet const& sheet) {
  try {
    reader(sheet);
  } catch (Error const& error) {
    promise(*error.what() != '\0', "an error without words");
  }
}

}  // namespace

void try_bytes(std::string_view bytes) {
  Sheet const sheet = Sheet::parse(bytes, "sheet.csv");
  for (auto* const reader : {&try_measured, &try_ticks, &try_hardware}) try_one(reader, sheet);
}

}  // namespace meltlag::fuzz
