// SPDX-License-Identifier: MIT
#include "bead_reader.hpp"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <limits>

#include "along.hpp"

namespace meltlag::scan {
namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
constexpr double back_from_mm = 1.75, back_to_mm = 2.35;  // beside the bead
constexpr std::size_t back_reach = 33, level_reach = 14, near_reach = 10;
constexpr double level_within_mm = 1.2;
constexpr double level_share = 0.95;     // filled by what is 0.12 mm wide
constexpr double level_share_two = 0.8;  // of two pictures each may show half of the bead
constexpr double seen_share = 0.3;       // of the usual contrast
constexpr double edge_share = 0.5;       // of the bead's own level
constexpr double closed_mm = 0.15;       // a hole so small is dust
constexpr double least_run_mm = 0.12;
constexpr double most_aside_mm = 1.5, touches_mm = 2.3;
constexpr double follow = 0.15;  // how fast the expected place follows what is found
constexpr double step_clear_mm = 2.5, turn_clear_mm = 2.5;
constexpr double leap_mm = 0.03, leap_deviations = 4;
constexpr double bend_places = 1;  // where an edge runs aslant it also bends: so many steps of it
constexpr double misfit_times = 2.5, least_misfit = 0.04;
constexpr double glare_level = 249;
constexpr std::size_t blur_samples = 600;
constexpr double deviation_of_median = 1.4826;  // sd over median absolute deviation, normal errors

// What stands out around one point.
struct Found {
  bool any = false, touches = false;
  double from_mm = 0, to_mm = 0;
};

class Reader {
 public:
  Reader(Profiles const& profiles, Trail const& trail, ReadOptions const& options)
      : profiles_(profiles), trail_(trail), options_(options), count_(trail.points.size()) {}

  ReadBead read() {
    find_backgrounds();
    find_levels();
    follow_bead();
    out_.blur_mm = find_blur(profiles_, some_edges(), options_.pixel_mm, trail_.height_mm / 2);
    measure();
    doubt_leaps();
    doubt_thin();
    doubt_misfits();
    doubt_neighbours();
    state_scatter();
    return std::move(out_);
  }

 private:
  [[nodiscard]] std::size_t index_at(double mm) const {
    double const last = static_cast<double>(profiles_.count - 1);
    return static_cast<std::size_t>(
        std::clamp(std::round((mm + profiles_.half_mm) / profiles_.step_mm), 0.0, last));
  }
  // A thread along the bead does not matter where it fills less than half.
  [[nodiscard]] double middle_channel(std::size_t point,
                                      double from,
                                      double to,
                                      std::size_t c) const {
    std::vector<double> values;
    for (std::size_t k = index_at(from); k <= index_at(to); ++k)
      values.push_back(profiles_.of(point, k)[c]);
    return median_of(values);
  }

  // On each side the median over some mm of path, so that dust and neighbours do not matter.
  void find_backgrounds() {
    for (std::size_t side = 0; side < 2; ++side)
      for (std::size_t c = 0; c < profiles_.channels; ++c) {
        std::vector<double> values(count_, 0);
        for (std::size_t i = 0; i < count_; ++i)
          if (profiles_.in_picture[i])
            values[i] = side == 0 ? middle_channel(i, -back_to_mm, -back_from_mm, c)
                                  : middle_channel(i, back_from_mm, back_to_mm, c);
        back_[side][c] = running_median(values, profiles_.in_picture, back_reach, 1);
      }
  }

  // Of each picture's three colours; where there are two pictures, what a shadow could do is taken
  // off, since on a light page it may stand out more than clear plastic.
  [[nodiscard]] double unlike(std::size_t point, std::size_t k) const {
    std::uint8_t const* const here = profiles_.of(point, k);
    double const middle = (back_from_mm + back_to_mm) / 2;
    double const left =
        std::clamp(0.5 + profiles_.at(static_cast<double>(k)) / (2 * middle), 0.0, 1.0);
    double const shadow = profiles_.channels > 3 ? usual_shadow : 0;
    double squares = 0;
    for (std::size_t from = 0; from < profiles_.channels; from += 3) {
      double sum = 0, page = 0;
      for (std::size_t c = from; c < from + 3; ++c) {
        double const back = (1 - left) * back_[0][c][point] + left * back_[1][c][point];
        sum += (here[c] - back) * (here[c] - back);
        page += back * back;
      }
      double const off = std::max(0.0, std::sqrt(sum) - shadow * std::sqrt(page));
      squares += off * off;
    }
    return std::sqrt(squares);
  }

  // How unlike its background the bead is here.
  void find_levels() {
    double const share = profiles_.channels > 3 ? level_share_two : level_share;
    std::vector<double> levels(count_, 0), across;
    std::vector<bool> seen(count_, false);
    for (std::size_t i = 0; i < count_; ++i) {
      if (!profiles_.in_picture[i]) continue;
      across.clear();
      for (std::size_t k = index_at(-level_within_mm); k <= index_at(level_within_mm); ++k)
        across.push_back(unlike(i, k));
      auto const at =
          across.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(across.size()));
      std::nth_element(across.begin(), at, across.end());
      levels[i] = *at;
      seen[i] = *at > seen_share * options_.contrast;
    }
    levels_ = running_median(levels, seen, level_reach, 3);
    for (double& level : levels_)
      if (std::isnan(level)) level = options_.contrast;
  }

  // The stretch that stands out nearest to where the bead is expected.
  [[nodiscard]] Found find_at(std::size_t point, double expected_mm) const {
    double const limit = edge_share * levels_[point];
    auto const closed = static_cast<std::size_t>(closed_mm / profiles_.step_mm);
    Found best;
    double least = 1e9;
    std::size_t const none = profiles_.count;
    std::size_t from = none, last = 0;
    auto const close = [&] {
      if (from == none) return;
      double const a = profiles_.at(static_cast<double>(from) - 0.5);
      double const b = profiles_.at(static_cast<double>(last) + 0.5);
      double const off = std::abs((a + b) / 2 - expected_mm);
      if (b - a > least_run_mm && off < least) {
        least = off;
        best = {true, a < -touches_mm || b > touches_mm, a, b};
      }
      from = none;
    };
    for (std::size_t k = 0; k < profiles_.count; ++k) {
      bool const stands_out = unlike(point, k) > limit;
      if (from != none && !stands_out && k - last > closed) close();
      if (!stands_out) continue;
      if (from == none) from = k;
      last = k;
    }
    close();
    return best;
  }

  void follow_bead() {
    double expected = 0;
    for (std::size_t i = 0; i < count_; ++i) {
      TrailPoint const& point = trail_.points[i];
      if (!profiles_.in_picture[i]) {
        found_.push_back({});
        continue;
      }
      Found const found = find_at(i, expected);
      found_.push_back(found);
      double const middle = (found.from_mm + found.to_mm) / 2;
      bool const good = found.any && !found.touches && point.to_step_mm > step_clear_mm &&
                        std::abs(middle) < most_aside_mm;
      expected += follow * ((good ? middle : 0) - expected);
    }
  }

  [[nodiscard]] EdgeLook look_of(std::size_t i, double sign) const {
    Found const& found = found_[i];
    return {.sign = sign,
            .coarse_mm = sign > 0 ? found.to_mm : found.from_mm,
            .room_mm = std::clamp((found.to_mm - found.from_mm) / 2, 0.1, 0.5)};
  }
  [[nodiscard]] bool measurable(std::size_t i) const { return found_[i].any && !found_[i].touches; }

  [[nodiscard]] std::vector<EdgeAt> some_edges() const {
    std::vector<EdgeAt> out;
    std::size_t const step = std::max<std::size_t>(1, count_ / blur_samples);
    for (std::size_t i = 0; i < count_; i += step)
      if (measurable(i) && trail_.points[i].prints && trail_.points[i].to_step_mm > step_clear_mm)
        out.push_back({i, look_of(i, i / step % 2 == 0 ? 1 : -1)});
    return out;
  }

  void measure() {
    EdgeFitter const fitter(profiles_, out_.blur_mm, trail_.height_mm / 2);
    out_.left_mm.assign(count_, nan_value);
    out_.right_mm.assign(count_, nan_value);
    misfits_.assign(count_, nan_value);
    for (std::size_t i = 0; i < count_; ++i) {
      TrailPoint const& point = trail_.points[i];
      Width width{.line = point.line,
                  .at_mm = point.at_mm,
                  .way_mm = point.way_mm,
                  .ring = point.ring,
                  .turn_deg = std::atan2(point.place.y, point.place.x) * 180 / 3.14159265358979,
                  .prints = point.prints};
      width.doubt = measure_one(fitter, i, width);
      out_.widths.push_back(width);
      out_.coarse_mm.push_back(
          std::abs(width.aside_mm) > most_aside_mm ? 0 : found_[i].to_mm - found_[i].from_mm);
    }
  }

  Doubt measure_one(EdgeFitter const& fitter, std::size_t i, Width& width) {
    TrailPoint const& point = trail_.points[i];
    if (!profiles_.in_picture[i]) return Doubt::off_picture;
    if (!found_[i].any) return Doubt::no_bead;
    width.width_mm = found_[i].to_mm - found_[i].from_mm;
    width.aside_mm = (found_[i].to_mm + found_[i].from_mm) / 2;
    if (std::abs(width.aside_mm) > most_aside_mm) {
      width.width_mm = 0;  // a neighbour, most likely
      return Doubt::aside;
    }
    if (point.to_step_mm < step_clear_mm || point.to_turn_mm < turn_clear_mm) return Doubt::at_step;
    if (found_[i].touches) return Doubt::touches;
    std::optional<Edge> const left = fitter.fit(i, look_of(i, 1));
    std::optional<Edge> const right = fitter.fit(i, look_of(i, -1));
    if (!left || !right) return Doubt::unclear;
    out_.left_mm[i] = left->at_mm;
    out_.right_mm[i] = right->at_mm;
    misfits_[i] = std::max(left->misfit, right->misfit);
    width.width_mm = left->at_mm - right->at_mm;
    width.aside_mm = (left->at_mm + right->at_mm) / 2;
    if (width.width_mm < options_.nozzle_mm / 2) return Doubt::thin;
    auto const white = [](Colour const& colour) {
      return std::min({colour[0], colour[1], colour[2]}) > glare_level ||
             std::min({colour[3], colour[4], colour[5]}) > glare_level;
    };
    return white(left->inside) || white(right->inside) ? Doubt::glare : Doubt::none;
  }

  // Each edge against its own neighbours, twice: what leaps out must not stand for others. Places
  // too thin to be believed are neighbours as well: those beside them that happen to be read wide
  // would stand alone otherwise.
  void doubt_leaps() {
    for (int round = 0; round < 2; ++round)
      for (std::vector<double> const* edge : {&out_.left_mm, &out_.right_mm}) {
        std::vector<bool> const known = measured();
        LocalLines const lines = running_lines(*edge, known, near_reach, 5);
        std::vector<double> off(count_, 0);
        for (std::size_t i = 0; i < count_; ++i)
          if (known[i])
            off[i] = std::isnan(lines.level[i]) ? 1e9 : std::abs((*edge)[i] - lines.level[i]);
        std::vector<double> const usual = running_median(off, known, near_reach, 5);
        for (std::size_t i = 0; i < count_; ++i)
          if (known[i] && !(off[i] < leap_mm + leap_deviations * usual[i] +
                                         bend_places * std::abs(lines.slope[i])))
            out_.widths[i].doubt = Doubt::unlike_neighbours;
      }
  }

  // By what a place's neighbourhood shows, not by what itself does: of places about as wide as the
  // least that is believed, the wider half would remain.
  void doubt_thin() {
    LocalLines const lines = width_lines(measured());
    for (std::size_t i = 0; i < count_; ++i)
      if (out_.widths[i].doubt == Doubt::none && lines.level[i] < options_.nozzle_mm / 2)
        out_.widths[i].doubt = Doubt::thin;
  }

  void doubt_misfits() {
    std::vector<double> const usual = running_median(misfits_, believed(), 40, 10);
    for (std::size_t i = 0; i < count_; ++i)
      if (out_.widths[i].doubt == Doubt::none &&
          !(misfits_[i] < std::max(least_misfit, misfit_times * usual[i])))
        out_.widths[i].doubt = Doubt::unclear;
  }

  // What spoils a place reaches a little into the next ones.
  void doubt_neighbours() {
    std::vector<bool> const known = believed();
    for (std::size_t i = 0; i < count_; ++i) {
      Doubt const doubt = out_.widths[i].doubt;
      if (known[i] || (doubt != Doubt::unlike_neighbours && doubt != Doubt::unclear)) continue;
      for (std::size_t const k : {i - 2, i - 1, i + 1, i + 2})
        if (k < count_ && known[k]) out_.widths[k].doubt = doubt;
    }
  }

  // What single places scatter about their neighbours' median is their own ±.
  void state_scatter() {
    std::vector<bool> const known = believed();
    std::vector<double> off(count_, 0);
    LocalLines const lines = width_lines(known);
    for (std::size_t i = 0; i < count_; ++i)
      if (known[i] && !std::isnan(lines.level[i]))
        off[i] = std::abs(out_.widths[i].width_mm - lines.level[i]);
    std::vector<double> const usual = running_median(off, known, 2 * near_reach, 5);
    for (std::size_t i = 0; i < count_; ++i)
      if (known[i]) out_.widths[i].sd_mm = std::max(0.003, deviation_of_median * usual[i]);
  }

  [[nodiscard]] LocalLines width_lines(std::vector<bool> const& known) const {
    std::vector<double> widths;
    for (Width const& width : out_.widths) widths.push_back(width.width_mm);
    return running_lines(widths, known, near_reach, 5);
  }

  [[nodiscard]] std::vector<bool> believed() const { return read_as({Doubt::none}); }
  // Believed, or too thin for that.
  [[nodiscard]] std::vector<bool> measured() const { return read_as({Doubt::none, Doubt::thin}); }
  [[nodiscard]] std::vector<bool> read_as(std::initializer_list<Doubt> doubts) const {
    std::vector<bool> out;
    for (Width const& width : out_.widths)
      out.push_back(std::ranges::find(doubts, width.doubt) != doubts.end());
    return out;
  }

  Profiles const& profiles_;
  Trail const& trail_;
  ReadOptions options_;
  std::size_t count_;
  std::array<std::array<std::vector<double>, most_channels>, 2> back_;  // right, left; by channel
  std::vector<double> levels_, misfits_;
  std::vector<Found> found_;
  ReadBead out_;
};

}  // namespace

ReadBead read_bead(Profiles const& profiles, Trail const& trail, ReadOptions const& options) {
  return Reader(profiles, trail, options).read();
}

}  // namespace meltlag::scan
