// SPDX-License-Identifier: MIT
#include "meltlag/judge/differences.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::judge {
namespace {

constexpr double same_place_mm = 2;
constexpr double least_string_mm = 5;  // what lies on shorter travels belongs to their beads
constexpr double visible_mm3 = 0.05;   // a ball of 0.46 mm

using Place = std::tuple<Mark, std::int64_t, std::int64_t>;

double gap_of(Difference const& d) { return std::abs(d.left_mm3 - d.right_mm3); }

// The first `most`, but not all of one kind and one way where others are there too: a string that
// only the adapted copy has is looked for like one that only the other has. The order stays.
std::vector<Difference> choice(std::vector<Difference> const& all, std::size_t most) {
  std::map<std::pair<Mark, bool>, std::size_t> taken;  // with whether there is more on the left
  auto const kind_of = [](Difference const& d) {
    return std::pair{d.mark, d.left_mm3 > d.right_mm3};
  };
  std::vector<char> chosen(all.size(), 0);
  std::size_t count = 0;
  for (std::size_t const limit : {std::size_t{1}, (most * 2 + 4) / 5, most}) {
    for (std::size_t i = 0; i < all.size() && count < most; ++i) {
      if (chosen[i] != 0 || taken[kind_of(all[i])] >= limit) continue;
      chosen[i] = 1;
      ++taken[kind_of(all[i])];
      ++count;
    }
  }
  std::vector<Difference> out;
  for (std::size_t i = 0; i < all.size(); ++i)
    if (chosen[i] != 0) out.push_back(all[i]);
  return out;
}

}  // namespace

void CopyMetrics::on_cell(CellRow const& cell) {
  JobLine const& from = job_.lines.at(static_cast<std::size_t>(cell.line - 1));
  if (from.copy == Copy::none || cell.kind == gcode::MoveKind::e_only) return;
  Sums& sums = from.copy == Copy::left ? left_ : right_;
  sums.wanted_mm3 += cell.wanted_mm3;
  sums.misplaced_mm3 += std::abs(cell.after.got_mm3 - cell.wanted_mm3);
}

void DifferenceFinder::note(JobLine const& line, Mark mark, Vec3 const& at_mm, double mm3) {
  if (line.copy == Copy::none || line.line == 0) return;
  Seen& seen = seen_[{line.line, mark}];
  bool const left = line.copy == Copy::left;
  seen.x_mm = at_mm.x - (left ? 0 : job_.offset_mm);
  seen.y_mm = at_mm.y;
  seen.layer = line.layer;
  (left ? seen.left_mm3 : seen.right_mm3) = std::max(0.0, mm3);
}

void DifferenceFinder::end_bead() {
  if (!bead_) return;
  JobLine const& line = job_.lines[static_cast<std::size_t>(bead_->line) - 1];
  note(line, Mark::blob, bead_->end_mm, bead_->got_after_mm3 - bead_->wanted_mm3);
  bead_.reset();
}

void DifferenceFinder::on_row(MoveRow const& row) {
  JobLine const& line = job_.lines[static_cast<std::size_t>(row.line) - 1];
  if (row.kind == gcode::MoveKind::print) {
    if (!bead_) note(line, Mark::thin_start, last_end_mm_, row.wanted_mm3 - row.got_after_mm3);
    bead_ = row;
  } else {
    end_bead();
    if (row.kind == gcode::MoveKind::travel && row.length_mm >= least_string_mm)
      note(line, Mark::string, 0.5 * (last_end_mm_ + row.end_mm), row.got_after_mm3);
  }
  last_end_mm_ = row.end_mm;
}

std::vector<Difference> DifferenceFinder::finish(std::size_t most) {
  end_bead();
  std::map<Place, Difference> places;
  for (auto const& [key, seen] : seen_) {
    if (!seen.left_mm3 || !seen.right_mm3) continue;
    Mark const mark = std::get<Mark>(key);
    auto const cell = [](double mm) { return std::llround(mm / same_place_mm); };
    Difference& d = places[{mark, cell(seen.x_mm), cell(seen.y_mm)}];
    if (d.layers == 0) {
      d = {.mark = mark,
           .x_mm = seen.x_mm,
           .y_mm = seen.y_mm,
           .first_layer = seen.layer,
           .last_layer = seen.layer,
           .layers = 1};
    }
    if (seen.layer > d.last_layer) ++d.layers;  // they come in ascending order
    d.last_layer = std::max(d.last_layer, seen.layer);
    d.left_mm3 += *seen.left_mm3;
    d.right_mm3 += *seen.right_mm3;
  }
  std::vector<Difference> all;
  for (auto& [place, d] : places) {
    d.left_mm3 /= d.layers;
    d.right_mm3 /= d.layers;
    if (gap_of(d) >= visible_mm3) all.push_back(d);
  }
  std::ranges::stable_sort(all, [](Difference const& a, Difference const& b) {
    return gap_of(a) * a.layers > gap_of(b) * b.layers;
  });
  return choice(all, most);
}

}  // namespace meltlag::judge
