// SPDX-License-Identifier: MIT
// A person measures a printed piece.
#include "measure.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>
#include <stdexcept>

namespace meltlag_reference {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double walk_mm = 0.1;      // the person's eye along the ruler
constexpr double eye_window_mm = 1;  // what it sees as one place
constexpr double farthest_mm = 500;  // nobody walks on

std::uint64_t hash(std::string_view text) {
  std::uint64_t h = 0xcbf29ce484222325;
  for (const char c : text) h = (h ^ static_cast<unsigned char>(c)) * 0x100000001b3;
  return h;
}

double rounded(double value, double step) {
  return step > 0 ? std::round(value / step) * step : value;
}

enum class Past { narrower, wider };

// One row under the person's hands.
class Reader {
 public:
  Reader(const HeadMotion& motion,
         const Print& print,
         const std::vector<SheetRow>& rows,
         const SheetRow& row,
         const Measuring& how)
      : motion_(motion), print_(print), row_(row), how_(how) {
    for (const std::size_t line : row.lines) moves_.push_back(motion.find(line));
    height_ = row.trace.empty() ? mean_height(rows) : trace_height(row.trace);
  }

  std::optional<double> read(std::size_t number) const {
    Dice dice((how_.seed + 1) * 0x9e3779b97f4a7c15 + number);
    dice.bits();
    if (row_.kind == "mass") {
      return rounded(mass() + how_.mass_noise_g * dice.normal(), how_.mass_step_g);
    }
    if (row_.kind == "height") {
      return rounded(layers() * height_ + how_.width_noise_mm * dice.normal(), how_.width_step_mm);
    }
    if (moves_.empty()) return {};
    const double off = how_.place_error_mm * dice.normal();
    if (row_.kind == "width") return width(off, dice);
    const auto place = [&](double mm) { return rounded(mm, how_.place_step_mm); };
    if (row_.kind == "place_at_width") {
      return place(row_.ruler_mm +
                   along_ruler() * (walk(locked_at(), Past::narrower, how_.jaw_mm)) + off);
    }
    if (row_.kind == "tail") {
      const double steady = mean_width(-how_.jaw_mm / 2, how_.jaw_mm);
      return place(std::max(0.0, walk(steady / 2, Past::narrower, eye_window_mm) + off));
    }
    if (row_.kind == "gap") {
      const Move& move = motion_.program.moves[moves_.front()];
      const double wanted = width_of(std::max(0.0, move.volume_mm3 / move.length_mm));
      return place(std::max(0.0, walk(wanted / 2, Past::wider, eye_window_mm) + off));
    }
    return {};
  }

 private:
  double trace_height(const std::string& trace) const {
    Dice dice(how_.seed ^ hash("trace " + trace));
    return how_.height_mm + how_.height_error_mm * dice.normal();
  }

  // Of all traces in the sheet, for rows that belong to none.
  double mean_height(const std::vector<SheetRow>& rows) const {
    std::set<std::string> traces;
    for (const SheetRow& row : rows) {
      if (!row.trace.empty()) traces.insert(row.trace);
    }
    double sum = 0;
    for (const std::string& trace : traces) sum += trace_height(trace);
    return traces.empty() ? how_.height_mm : sum / static_cast<double>(traces.size());
  }

  double width_of(double section) const {
    return section > 0 ? section / height_ + (1 - pi / 4) * height_ : 0;
  }

  // Mean over the layers, `further` mm on from the row's place. At the ends of a straight the
  // window is what is left of it.
  double mean_width(double further, double window) const {
    double sum = 0;
    for (std::size_t k = 0; k < moves_.size(); ++k) {
      const std::size_t i = moves_[k];
      const double low = motion_.straight_from_mm[i], high = motion_.straight_to_mm[i];
      const double at = std::clamp(motion_.way_mm[i] + row_.at_mm[k] + further, low, high);
      const double from = std::max(low, at - window / 2), to = std::min(high, at + window / 2);
      if (to > from) sum += width_of((print_.until(to) - print_.until(from)) / (to - from));
    }
    return sum / static_cast<double>(moves_.size());
  }

  // How far the person can go on.
  double way_left() const {
    double left = farthest_mm;
    for (std::size_t k = 0; k < moves_.size(); ++k) {
      const std::size_t i = moves_[k];
      left = std::min(left, motion_.straight_to_mm[i] - motion_.way_mm[i] - row_.at_mm[k]);
    }
    return std::max(0.0, left);
  }

  // Way until the bead first is past the limit.
  double walk(double limit, Past past, double window) const {
    const double end = way_left();
    double before = 0;
    for (double way = 0; way <= end; way += walk_mm) {
      const double width = mean_width(way, window);
      if (past == Past::narrower ? width <= limit : width >= limit) {
        if (way == 0 || width == before) return way;
        return way - walk_mm * (width - limit) / (width - before);
      }
      before = width;
    }
    return end;
  }

  double along_ruler() const {
    const Move& move = motion_.program.moves[moves_.front()];
    return move.end_mm[0] < move.start_mm[0] ? -1 : 1;
  }

  double locked_at() const {
    const std::size_t at = row_.note.find_first_of("0123456789");
    if (at == std::string::npos) {
      throw std::runtime_error("the note does not say where the calipers are locked: " + row_.note);
    }
    return std::stod(row_.note.substr(at));
  }

  double width(double off, Dice& dice) const {
    double value = mean_width(off, how_.jaw_mm) + how_.width_noise_mm * dice.normal();
    const double lot = dice.uniform(), size = 0.3 + 0.3 * dice.uniform(), side = dice.uniform();
    if (lot < how_.outliers) value += side < 0.5 ? -size : size;
    return rounded(std::max(0.0, value), how_.width_step_mm);
  }

  // The way on which the piece begins.
  double piece_begins() const {
    std::size_t first = 0;
    for (const Line& line : motion_.program.lines) {
      const std::size_t word = line.comment.find_first_not_of(" \t;");
      if (word != std::string::npos && line.comment.compare(word, 5, "trace") == 0) {
        first = line.number;
        break;
      }
    }
    for (std::size_t i = 0; i < motion_.program.moves.size(); ++i) {
      const Move& move = motion_.program.moves[i];
      if (first > 0 ? move.line >= first : move.kind == MoveKind::print) return motion_.way_mm[i];
    }
    return 0;
  }

  double mass() const {
    double mm3 = 0;
    for (const std::size_t i : moves_) {
      const double from = motion_.way_mm[i];
      mm3 += print_.until(from + motion_.program.moves[i].length_mm) - print_.until(from);
    }
    if (moves_.empty()) mm3 = print_.out_mm3.back() - print_.until(piece_begins());
    return mm3 * how_.density_g_cm3 / 1000;
  }

  double layers() const {
    if (!moves_.empty()) return static_cast<double>(moves_.size());
    std::set<long> heights;
    for (const Move& move : motion_.program.moves) {
      if (move.kind == MoveKind::print) heights.insert(std::lround(move.end_mm[2] * 1000));
    }
    return static_cast<double>(heights.size());
  }

  const HeadMotion& motion_;
  const Print& print_;
  const SheetRow& row_;
  const Measuring& how_;
  std::vector<std::size_t> moves_;
  double height_ = 0;  // of this trace's layers
};

}  // namespace

std::uint64_t Dice::bits() {
  std::uint64_t z = (state_ += 0x9e3779b97f4a7c15);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9;
  z = (z ^ (z >> 27)) * 0x94d049bb133111eb;
  return z ^ (z >> 31);
}

double Dice::uniform() { return (static_cast<double>(bits() >> 11) + 0.5) / 9007199254740992.0; }

double Dice::normal() {
  const double radius = std::sqrt(-2 * std::log(uniform()));
  return radius * std::cos(2 * pi * uniform());
}

std::vector<std::optional<double>> measure_sheet(const HeadMotion& motion,
                                                 const Print& print,
                                                 const std::vector<SheetRow>& rows,
                                                 const Measuring& how) {
  std::vector<std::optional<double>> values;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    values.push_back(Reader(motion, print, rows, rows[i], how).read(i + 1));
  }
  return values;
}

std::vector<std::optional<double>> measure_sheet(std::string_view gcode,
                                                 const std::vector<SheetRow>& rows,
                                                 const HiddenMachine& hidden,
                                                 const Machine& machine,
                                                 const Measuring& how) {
  const HeadMotion motion = plan_motion(gcode, machine, hidden.plant.slicer_diameter_mm);
  return measure_sheet(motion, simulate_print(motion, hidden), rows, how);
}

}  // namespace meltlag_reference
