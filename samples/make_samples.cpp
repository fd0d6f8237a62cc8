// SPDX-License-Identifier: MIT
// Writes the sample files of this directory, and on request one as long as wanted:
//   make_samples DIRECTORY            seed-tray-foot, cable-clip-arcs and numbered-absolute
//   make_samples --long|--long-infill MEGABYTES FILE
// The same call always writes the same bytes.
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <numbers>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

namespace {

constexpr double layer_height_mm = 0.3;
constexpr double bead_width_mm = 0.8;
constexpr double slicer_diameter_mm = 1.75;
constexpr double retract_mm = 1.0;
constexpr double retract_speed_mm_s = 30;
constexpr double travel_speed_mm_s = 80;
constexpr double turn = 2 * std::numbers::pi;

// Section of a bead with round edges, mm².
double bead_area() {
  return layer_height_mm * bead_width_mm -
         (1 - std::numbers::pi / 4) * layer_height_mm * layer_height_mm;
}
double e_per_mm() {
  return bead_area() / (std::numbers::pi / 4 * slicer_diameter_mm * slicer_diameter_mm);
}

struct Point {
  double x, y;
};
double distance(Point a, Point b) { return std::hypot(b.x - a.x, b.y - a.y); }

enum class Dialect {
  relative,           // relative E, plain lines
  numbered_absolute,  // absolute E, N with checksum, CRLF
};
enum class ArcForm { centre, radius };
enum class Sense { clockwise, counter_clockwise };

struct Arc {
  Point end, centre;
  Sense sense;
  ArcForm form;
};

// Speaks G-code to a file.
class Writer {
 public:
  Writer(std::string const& path, Dialect dialect)
      : out_(path, std::ios::binary), dialect_(dialect) {
    if (!out_) throw std::runtime_error("cannot write " + path);
  }
  ~Writer() { flush(); }

  std::int64_t bytes() const { return bytes_; }

  void line(std::string_view text) {
    line_.assign(text);
    end_line();
  }
  void travel(Point to) {
    if (distance(at_, to) < 1e-6) return;
    begin("G0");
    words(to);
    end_move(to, travel_speed_mm_s);
  }
  void print(Point to, double speed_mm_s) {
    begin("G1");
    words(to);
    extrude(distance(at_, to) * e_per_mm());
    printed_ = true;
    end_move(to, speed_mm_s);
  }
  void arc(Arc const& arc, double speed_mm_s) {
    double const radius = distance(at_, arc.centre);
    double const from = std::atan2(at_.y - arc.centre.y, at_.x - arc.centre.x);
    double const to = std::atan2(arc.end.y - arc.centre.y, arc.end.x - arc.centre.x);
    double sweep = arc.sense == Sense::clockwise ? from - to : to - from;
    while (sweep <= 1e-9) sweep += turn;
    begin(arc.sense == Sense::clockwise ? "G2" : "G3");
    words(arc.end);
    if (arc.form == ArcForm::radius) {
      word('R', sweep > turn / 2 ? -radius : radius, 3);
    } else {
      word('I', arc.centre.x - at_.x, 3);
      word('J', arc.centre.y - at_.y, 3);
    }
    extrude(sweep * radius * e_per_mm());
    printed_ = true;
    end_move(arc.end, speed_mm_s);
  }
  void retract() { screw_only(-retract_mm); }
  void recover() { screw_only(retract_mm); }
  // A travel with the pressure taken off, if there is any yet.
  void hop(Point to) {
    if (printed_) retract();
    travel(to);
    if (printed_) recover();
  }
  // Turns the screw at rest until clean melt comes.
  void purge(double e_mm) {
    begin("G1");
    extrude(e_mm);
    end_move(at_, 5);
  }
  void layer(int number) {
    if (dialect_ == Dialect::numbered_absolute) {
      line("G92 E0");
      e_ = 0;
    }
    line("; layer " + std::to_string(number));
    begin("G1");
    word('Z', number * layer_height_mm, 2);
    end_move(at_, 10);
  }

 private:
  void begin(std::string_view code) { line_.assign(code); }
  void word(char letter, double value, int digits) {
    std::array<char, 32> text;
    double const rounded = value == 0 ? 0.0 : value;
    auto const end = std::to_chars(
        text.data(), text.data() + text.size(), rounded, std::chars_format::fixed, digits);
    (line_ += ' ') += letter;
    line_.append(text.data(), end.ptr);
  }
  void words(Point to) {
    word('X', to.x, 3);
    word('Y', to.y, 3);
  }
  void extrude(double e) {
    e_ += e;
    word('E', dialect_ == Dialect::relative ? e : e_, 5);
  }
  void screw_only(double e) {
    begin("G1");
    extrude(e);
    end_move(at_, retract_speed_mm_s);
  }
  void end_move(Point to, double speed_mm_s) {
    at_ = to;
    if (std::exchange(speed_mm_s_, speed_mm_s) != speed_mm_s) word('F', 60 * speed_mm_s, 0);
    end_line();
  }
  void end_line() {
    bool const bare = line_.empty() || line_.front() == ';';
    if (dialect_ == Dialect::numbered_absolute && !bare) {
      line_.insert(0, "N" + std::to_string(++number_) + " ");
      unsigned sum = 0;
      for (char const c : line_) sum ^= static_cast<unsigned char>(c);
      line_ += "*" + std::to_string(sum);
    }
    buffer_ += line_;
    buffer_ += dialect_ == Dialect::numbered_absolute ? "\r\n" : "\n";
    if (buffer_.size() > 1 << 16) flush();
  }
  void flush() {
    out_.write(buffer_.data(), static_cast<std::streamsize>(buffer_.size()));
    bytes_ += static_cast<std::int64_t>(buffer_.size());
    buffer_.clear();
  }

  std::ofstream out_;
  Dialect dialect_;
  std::string line_, buffer_;
  std::int64_t bytes_ = 0;
  std::int64_t number_ = 0;
  Point at_{0, 0};
  double e_ = 0;
  double speed_mm_s_ = 0;
  bool printed_ = false;
};

void start(Writer& out, std::string_view e_mode) {
  out.line("G21");
  out.line("G90");
  out.line("M104 S205");
  out.line("G28");
  out.line("M109 S205");
  out.line("G92 E0");
  out.line("M106 S80");
  out.line(e_mode);
  out.purge(8);
}

void finish(Writer& out) {
  out.retract();
  out.line("M107");
  out.line("M104 S0");
  out.line("M84");
}

void rectangle(Writer& out, Point low, Point high, double speed_mm_s) {
  for (Point const corner : {Point{high.x, low.y}, high, Point{low.x, high.y}, low})
    out.print(corner, speed_mm_s);
}

struct Circle {
  Point centre;
  double radius;
  Point at(double angle) const {
    return {centre.x + radius * std::cos(angle), centre.y + radius * std::sin(angle)};
  }
};

// A ring of straight pieces, begun at `start_angle`.
void ring(Writer& out, Circle const& circle, int pieces, double start_angle, double speed_mm_s) {
  for (int i = 1; i <= pieces; ++i)
    out.print(circle.at(start_angle + turn * i / pieces), speed_mm_s);
}

// Rows across a rectangle, to and fro; where a row meets the hole the head hops over it.
void infill(Writer& out, Point low, Point high, Circle const& hole, double speed_mm_s) {
  double const pitch = bead_width_mm;
  int const rows = static_cast<int>((high.y - low.y) / pitch) + 1;
  for (int row = 0; row < rows; ++row) {
    double const y = low.y + row * pitch;
    bool const forth = row % 2 == 0;
    double const from = forth ? low.x : high.x, to = forth ? high.x : low.x;
    if (row > 0) out.print({from, y}, speed_mm_s);
    double const off = std::abs(y - hole.centre.y);
    if (off < hole.radius) {
      double const half = std::sqrt(hole.radius * hole.radius - off * off);
      double const near = hole.centre.x + (forth ? -half : half);
      double const far = hole.centre.x + (forth ? half : -half);
      out.print({near, y}, speed_mm_s);
      out.hop({far, y});
    }
    out.print({to, y}, speed_mm_s);
  }
}

void seed_tray_foot(std::string const& path) {
  Writer out(path, Dialect::relative);
  out.line("; Foot of a seed tray: two walls, a ring of short segments round the drain, infill.");
  out.line("; Shows starts and stops, short segments, speed changes, retracts; relative E.");
  start(out, "M83");
  Circle const drain{{28, 24}, 5.6};
  for (int layer = 1; layer <= 3; ++layer) {
    out.layer(layer);
    for (int wall = 0; wall < 2; ++wall) {
      double const inset = bead_width_mm * wall;
      Point const low{12 + inset, 12 + inset}, high{44 - inset, 36 - inset};
      out.hop(low);
      rectangle(out, low, high, wall == 0 ? 25 : 30);
    }
    for (int wall = 0; wall < 2; ++wall) {
      Circle const circle{drain.centre, drain.radius + bead_width_mm * wall};
      double const seam = turn / 8 * layer;
      out.hop(circle.at(seam));
      ring(out, circle, 60 + 12 * wall, seam, 25);
    }
    Point const low{12 + 2 * bead_width_mm, 12 + 2 * bead_width_mm};
    out.hop(low);
    infill(out, low, {44 - 2 * bead_width_mm, 36 - 2 * bead_width_mm}, {drain.centre, 7.2}, 40);
  }
  finish(out);
}

// The clip's jaw: two concentric arcs joined by a half circle at each end.
void jaw(Writer& out, Point centre, double inner, double outer, ArcForm form) {
  double const open = 0.7;  // half the opening, radian
  Circle const in{centre, inner}, wide{centre, outer}, middle{centre, (inner + outer) / 2};
  auto const bend = [&](Point end, Point around, Sense sense, ArcForm how) {
    out.arc({.end = end, .centre = around, .sense = sense, .form = how}, 28);
  };
  // A half circle by its radius alone would depend on the last digit of its end.
  bend(wide.at(turn - open), centre, Sense::counter_clockwise, form);
  bend(in.at(turn - open), middle.at(turn - open), Sense::counter_clockwise, ArcForm::centre);
  bend(in.at(open), centre, Sense::clockwise, form);
  bend(wide.at(open), middle.at(open), Sense::counter_clockwise, ArcForm::centre);
}

// A plate with rounded corners, from the left end of its lower edge, and its screw hole.
void plate(Writer& out, Point low, Point high, double round) {
  auto const corner = [&](Point end, Point centre) {
    out.arc(
        {.end = end, .centre = centre, .sense = Sense::counter_clockwise, .form = ArcForm::centre},
        30);
  };
  out.print({high.x - round, low.y}, 35);
  corner({high.x, low.y + round}, {high.x - round, low.y + round});
  out.print({high.x, high.y - round}, 35);
  corner({high.x - round, high.y}, {high.x - round, high.y - round});
  out.print({low.x + round, high.y}, 35);
  corner({low.x, high.y - round}, {low.x + round, high.y - round});
  out.print({low.x, low.y + round}, 35);
  corner({low.x + round, low.y}, {low.x + round, low.y + round});
}

void cable_clip_arcs(std::string const& path) {
  Writer out(path, Dialect::relative);
  out.line("; Cable clip of arcs: G2 and G3 by centre (I J) and by radius (R), and a full circle.");
  out.line("; The plate has rounded corners and a screw hole, the jaw is open to the right.");
  start(out, "M83");
  for (int layer = 1; layer <= 6; ++layer) {
    out.layer(layer);
    out.hop({22, 20});
    plate(out, {20, 20}, {60, 32}, 2);
    out.hop({20 + bead_width_mm + 2, 20 + bead_width_mm});
    plate(
        out, {20 + bead_width_mm, 20 + bead_width_mm}, {60 - bead_width_mm, 32 - bead_width_mm}, 2);
    Circle const hole{{26, 26}, 2.6};
    out.hop(hole.at(0));
    out.arc({.end = hole.at(0),
             .centre = hole.centre,
             .sense = Sense::clockwise,
             .form = ArcForm::centre},
            20);
    Point const axis{46, 42};
    for (double const inset : {0.0, bead_width_mm / 2}) {
      out.hop(Circle{axis, 10 - inset}.at(0.7));
      jaw(out, axis, 7 + inset, 10 - inset, layer % 2 == 0 ? ArcForm::radius : ArcForm::centre);
    }
  }
  finish(out);
}

void numbered_absolute(std::string const& path) {
  Writer out(path, Dialect::numbered_absolute);
  out.line(
      "; Plant label for a serial link: absolute E, line numbers with checksums, CRLF line ends.");
  start(out, "M82");
  Circle const eye{{50, 18}, 2.4};
  for (int layer = 1; layer <= 2; ++layer) {
    out.layer(layer);
    out.hop({10, 10});
    rectangle(out, {10, 10}, {56, 26}, 30);
    out.hop(eye.at(0));
    ring(out, eye, 24, 0, 25);
    Point const low{10 + bead_width_mm, 10 + bead_width_mm};
    out.hop(low);
    infill(out, low, {56 - bead_width_mm, 26 - bead_width_mm}, {eye.centre, 3.2}, 35);
  }
  finish(out);
}

// Discs of millimetre segments and infill at print speed, one upon the other, until the size is
// reached.
void long_file(double megabytes, std::string const& path) {
  Writer out(path, Dialect::relative);
  out.line(
      "; Long file for speed measurements: rings of millimetre segments, infill at print speed.");
  start(out, "M83");
  Circle const disc{{100, 100}, 30};
  auto const wanted = static_cast<std::int64_t>(megabytes * 1e6);
  for (int layer = 1; out.bytes() < wanted; ++layer) {
    out.layer(layer);
    for (int wall = 0; wall < 12; ++wall) {
      Circle const circle{disc.centre, disc.radius - bead_width_mm * wall};
      double const seam = 0.37 * layer + 0.11 * wall;
      out.hop(circle.at(seam));
      ring(out,
           circle,
           static_cast<int>(std::lround(turn * circle.radius)),
           seam,
           30 + wall % 3 * 5);
    }
    double const half = 12 + 0.1 * (layer % 10);
    Point const low{disc.centre.x - half, disc.centre.y - half};
    out.hop(low);
    infill(out, low, {disc.centre.x + half, disc.centre.y + half}, {disc.centre, 4}, 40);
  }
  finish(out);
}

// From side to side of a circle in lines one bead apart, along X or along Y.
void fill_disc(Writer& out, Circle const& disc, bool along_x, double speed_mm_s) {
  auto const place = [&](double along, double across) {
    return along_x ? Point{disc.centre.x + along, disc.centre.y + across}
                   : Point{disc.centre.x + across, disc.centre.y + along};
  };
  double side = -1;
  bool begins = true;
  for (double across = bead_width_mm / 2 - disc.radius; across < disc.radius;
       across += bead_width_mm, side = -side) {
    double const half = std::sqrt(disc.radius * disc.radius - across * across);
    Point const from = place(side * half, across);
    begins ? out.hop(from) : out.print(from, speed_mm_s);
    begins = false;
    out.print(place(-side * half, across), speed_mm_s);
  }
}

// Discs of few rings and much infill at twice their flow: every line of it becomes several.
void long_infill(double megabytes, std::string const& path) {
  Writer out(path, Dialect::relative);
  out.line("; Long file for speed measurements: three rings, and infill at twice their speed.");
  start(out, "M83");
  auto const wanted = static_cast<std::int64_t>(megabytes * 1e6);
  for (int layer = 1; out.bytes() < wanted; ++layer) {
    out.layer(layer);
    Circle circle{{100, 100}, 24};
    for (int wall = 0; wall < 3; ++wall, circle.radius -= bead_width_mm) {
      out.hop(circle.at(0));
      ring(out, circle, static_cast<int>(std::lround(turn * circle.radius)), 0, 25);
    }
    fill_disc(out, circle, layer % 2 == 0, 50);
  }
  finish(out);
}

int run(int count, char** words) {
  std::string_view const first = count == 4 ? words[1] : "";
  if (first == "--long" || first == "--long-infill") {
    double const megabytes = std::atof(words[2]);
    if (!(megabytes > 0)) throw std::runtime_error("the size must be a number greater than 0");
    (first == "--long" ? long_file : long_infill)(megabytes, words[3]);
    return 0;
  }
  if (count != 2 || words[1][0] == '-') {
    std::cerr << "usage: make_samples DIRECTORY\n"
                 "       make_samples --long|--long-infill MEGABYTES FILE\n";
    return 2;
  }
  std::string const directory = words[1];
  seed_tray_foot(directory + "/seed-tray-foot.gcode");
  cable_clip_arcs(directory + "/cable-clip-arcs.gcode");
  numbered_absolute(directory + "/numbered-absolute.gcode");
  return 0;
}

}  // namespace

int main(int count, char** words) try {
  return run(count, words);
} catch (std::exception const& error) {
  std::cerr << "make_samples: " << error.what() << '\n';
  return 1;
}
