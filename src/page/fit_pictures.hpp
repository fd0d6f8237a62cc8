// SPDX-License-Identifier: MIT
// Pictures of a fit: the piece from above, the readings over the fit, how far they are off, the lag
// over the flow, run-on and flow index together.
#pragma once

#include "meltlag/page/fit_page.hpp"

namespace meltlag::page {

// A row of the fit and where it lies on the bed.
struct FittedPlace {
  fit::RowOutcome const* row;
  reading::Reading const* reading;
  double x_mm = 0, y_mm = 0;
};
// The rows that are about one place each, in the fit's order.
[[nodiscard]] std::vector<FittedPlace> places_of(FitPage const& page);

// Every bead of the file in grey, the places read upon it by how much wider or narrower they are
// than the fit says.
void write_piece_picture(Out const& out,
                         FitPage const& page,
                         std::vector<FittedPlace> const& places);

// A chart for each ring where a picture was read, else one for all readings.
void write_readings_charts(Out const& out, FitPage const& page);

// How often readings are so far off, in units of their ±, against what chance makes.
void write_scatter_picture(Out const& out, fit::FitResult const& fit);

void write_lag_chart(Out const& out, fit::FitResult const& fit);

// Where 68 and 95 of 100 lie, the run-on on a logarithmic axis.
void write_ellipse(Out const& out, fit::FitResult const& fit);

}  // namespace meltlag::page
