// SPDX-License-Identifier: MIT
#include "meltlag/report/tick_sheet.hpp"

#include <fmt/format.h>

#include "meltlag/base/vec.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

constexpr double none_mm3 = 0.03;    // nobody sees so little
constexpr double faint_share = 0.3;  // nor so little of it beside the other

bool shows(double mm3, double other_mm3) { return mm3 > none_mm3 && mm3 > faint_share * other_mm3; }

std::string side(judge::Mark mark, double mm3, double other_mm3) {
  bool const there = shows(mm3, other_mm3);
  switch (mark) {
    case judge::Mark::blob:
      return there ? fmt::format("blob of {} mm", number(ball_diameter(mm3), 1)) : "no blob";
    case judge::Mark::thin_start:
      return there ? "thin start" : "full start";
    case judge::Mark::string:
      return there ? "string" : "no string";
  }
  return {};
}

}  // namespace

std::string left_copy(adapt::SideBySideJob const& job) {
  if (job.left_flow_share == 1) return "as sliced";
  return fmt::format("flow set right ({} % of every E as sliced)",
                     number(100 * job.left_flow_share, 1));
}

std::string tick_sheet(std::span<judge::Difference const> differences,
                       adapt::SideBySideJob const& job) {
  std::string out =
      "# Left: " + left_copy(job) +
      ". Right: adapted.\n"
      "# Look at each place on both parts and write yes under\n"
      "# seen where they differ as described, no where they do not. Then: meltlag compare --ticks "
      "FILE\n"
      "place,look_for,left_x_mm,left_y_mm,right_x_mm,layers,left_mm3,right_mm3,seen\n";
  for (std::size_t i = 0; i < differences.size(); ++i) {
    judge::Difference const& d = differences[i];
    std::string const left = side(d.mark, d.left_mm3, d.right_mm3);
    std::string const right = side(d.mark, d.right_mm3, d.left_mm3);
    bool const both = shows(d.left_mm3, d.right_mm3) && shows(d.right_mm3, d.left_mm3);
    char const* const more =
        d.left_mm3 > d.right_mm3 ? "more of it on the left" : "more of it on the right";
    out += fmt::format(
        "A{},{},{:.1f},{:.1f},{:.1f},{},{:.3f},{:.3f},\n",
        i + 1,
        csv_field(both ? fmt::format("{} on the left, {} on the right: {}", left, right, more)
                       : fmt::format("{} on the left, {} on the right", left, right)),
        d.x_mm,
        d.y_mm,
        d.x_mm + job.offset_mm,
        d.first_layer == d.last_layer ? std::to_string(d.first_layer)
                                      : fmt::format("{}–{}", d.first_layer, d.last_layer),
        d.left_mm3,
        d.right_mm3);
  }
  return out;
}

}  // namespace meltlag::report
