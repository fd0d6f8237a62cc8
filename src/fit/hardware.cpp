// SPDX-License-Identifier: MIT
#include "meltlag/fit/hardware.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>
#include <set>

#include "meltlag/base/error.hpp"

namespace meltlag::fit {
namespace {

using std::numbers::pi;

// The flows of a sheet that was written by the program have two decimals.
constexpr double same_flow_mm3_s = 0.011;

double disc_excess_mm3(double wide_mm, double bead_mm, double height_mm) {
  double const strip_mm2 = bead_mm / 4 * std::sqrt(wide_mm * wide_mm - bead_mm * bead_mm) +
                           wide_mm * wide_mm / 4 * std::asin(bead_mm / wide_mm);
  return height_mm * (pi / 4 * wide_mm * wide_mm - strip_mm2 - pi / 8 * bead_mm * bead_mm);
}

// The number after a word in a note.
std::optional<double> number_behind(std::string_view word, std::string_view note) {
  std::size_t const at = note.rfind(word);
  if (at == std::string_view::npos) return std::nullopt;
  std::string text(note.substr(at + word.size()));
  std::replace(text.begin(), text.end(), ',', '.');
  double number = 0;
  if (std::from_chars(text.data(), text.data() + text.size(), number).ec != std::errc{})
    return std::nullopt;
  return number;
}

// Of the first note that holds it.
std::optional<double> noted(Sheet const& sheet, std::string_view word) {
  for (std::size_t row = 0; row < sheet.rows(); ++row)
    if (auto const number = number_behind(word, sheet.text(row, "note"))) return number;
  return std::nullopt;
}

class Reader {
 public:
  Reader(Sheet const& sheet, std::optional<double> height_mm)
      : sheet_(sheet), height_mm_(height_mm) {
    static constexpr std::array<std::string_view, 5> needed{
        "stop", "flow_mm3_s", "blob_mm", "bead_mm", "gap_mm"};
    sheet_.require(needed);
    if (!height_mm_) height_mm_ = noted(sheet_, "layer ");
  }

  // Nothing where the row was left empty.
  std::optional<HardwareReading> read(std::size_t row) {
    std::optional<double> const blob = length(row, "blob_mm"), bead = length(row, "bead_mm");
    HardwareReading reading{.gap_mm = length(row, "gap_mm")};
    if (!blob && !reading.gap_mm) return std::nullopt;
    reading.stop = stop(row);
    reading.flow_mm3_s = flow(row);
    if (!blob) return reading;
    require_size(row, "blob_mm", *blob);
    if (!bead)
      fail(row, "bead_mm", "the bead's width is missing", "measure it beside the blob, in mm");
    require_size(row, "bead_mm", *bead);
    if (!height_mm_ || !(*height_mm_ > 0))
      fail(row, "note", "no note says how high the layer is", "add --layer-height MM");
    reading.blob_mm3 = fit::blob_mm3({*blob, *bead, *height_mm_});
    return reading;
  }

 private:
  [[noreturn]] void fail(std::size_t row,
                         std::string_view column,
                         std::string what,
                         std::string hint) const {
    throw Error(std::move(what), sheet_.place(row, column), std::move(hint));
  }

  [[nodiscard]] std::optional<double> length(std::size_t row, std::string_view column) const {
    static constexpr std::array<std::string_view, 1> mm{"mm"};
    std::optional<double> const value = sheet_.number(row, column, mm);
    if (value && (*value < 0 || *value > 100))
      fail(row,
           column,
           fmt::format("{:g} mm cannot be right", *value),
           "leave the cell empty where nothing was read");
    return value;
  }

  void require_size(std::size_t row, std::string_view column, double mm) const {
    if (mm >= 0.1) return;
    fail(row,
         column,
         fmt::format("{:g} mm is no width", mm),
         "where there is no blob, type the width at the bead's end");
  }

  int stop(std::size_t row) {
    double const value = sheet_.number(row, "stop", {}).value_or(0);
    if (value < 1 || value > 1e6 || value != std::floor(value))
      fail(row, "stop", "the stop has no number", "take the row from the sheet as written");
    int const number = static_cast<int>(value);
    if (!stops_.insert(number).second)
      fail(row, "stop", fmt::format("stop {} is given twice", number), "keep one of the rows");
    return number;
  }

  [[nodiscard]] double flow(std::size_t row) const {
    static constexpr std::array<std::string_view, 2> units{"mm3/s", "mm³/s"};
    double const value = sheet_.number(row, "flow_mm3_s", units).value_or(0);
    if (!(value > 0))
      fail(row, "flow_mm3_s", "the flow is missing", "take the row from the sheet as written");
    return value;
  }

  Sheet const& sheet_;
  std::optional<double> height_mm_;
  std::set<int> stops_;
};

using Values = std::vector<double>;

// By flow, slowest first; flows that differ by rounding alone are one.
std::map<double, Values> by_flow(HardwareSheet const& sheet, Quantity quantity) {
  std::map<double, Values> groups;
  for (HardwareReading const& reading : sheet.readings) {
    if (!(reading.*quantity)) continue;
    auto near = groups.lower_bound(reading.flow_mm3_s - same_flow_mm3_s);
    bool const known = near != groups.end() && near->first <= reading.flow_mm3_s + same_flow_mm3_s;
    (known ? near->second : groups[reading.flow_mm3_s]).push_back(*(reading.*quantity));
  }
  return groups;
}

double mean_of(Values const& values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

double squares_of(Values const& values) {
  double const mean = mean_of(values);
  double sum = 0;
  for (double const value : values) sum += (value - mean) * (value - mean);
  return sum;
}

Spread spread_within(Values const& values) {
  double const n = static_cast<double>(values.size());
  Spread spread{.count = static_cast<int>(values.size()), .mean = mean_of(values)};
  if (values.size() < 2) return spread;
  spread.sd = std::sqrt(squares_of(values) / (n - 1));
  spread.mean_sd = spread.sd / std::sqrt(n);
  return spread;
}

// The scatter is taken to be alike at all flows.
Spread spread_over(std::map<double, Values> const& groups) {
  Spread all;
  double squares = 0, inverse_counts = 0, freedom = 0;
  for (auto const& [flow, values] : groups) {
    all.count += static_cast<int>(values.size());
    all.mean += mean_of(values) / static_cast<double>(groups.size());
    squares += squares_of(values);
    freedom += static_cast<double>(values.size()) - 1;
    inverse_counts += 1 / static_cast<double>(values.size());
  }
  if (freedom <= 0) return all;
  all.sd = std::sqrt(squares / freedom);
  all.mean_sd = all.sd * std::sqrt(inverse_counts) / static_cast<double>(groups.size());
  return all;
}

FlowSpread& at_flow(std::vector<FlowSpread>& flows, double flow_mm3_s) {
  for (FlowSpread& known : flows)
    if (std::abs(known.flow_mm3_s - flow_mm3_s) <= same_flow_mm3_s) return known;
  return flows.emplace_back(FlowSpread{.flow_mm3_s = flow_mm3_s});
}

constexpr Quantity blob = &HardwareReading::blob_mm3, gap = &HardwareReading::gap_mm;

}  // namespace

double blob_mm3(BlobSize const& size) {
  if (size.blob_mm >= size.bead_mm)
    return disc_excess_mm3(size.blob_mm, size.bead_mm, size.layer_height_mm);
  return -disc_excess_mm3(size.bead_mm, size.blob_mm, size.layer_height_mm);
}

double ball_mm(double volume_mm3) { return volume_mm3 > 0 ? std::cbrt(6 / pi * volume_mm3) : 0; }

HardwareSheet read_hardware_sheet(Sheet const& sheet, std::optional<double> layer_height_mm) {
  HardwareSheet out{.name = sheet.name(), .retract_mm = noted(sheet, "retract ")};
  Reader reader(sheet, layer_height_mm);
  for (std::size_t row = 0; row < sheet.rows(); ++row)
    if (auto const reading = reader.read(row)) out.readings.push_back(*reading);
  HardwareSpread const spread = spread_of(out);
  if (spread.blob_mm3.count < 2 && spread.gap_mm.count < 2)
    throw Error("fewer than two stops or starts were measured",
                {.file = sheet.name()},
                "fill in blob_mm and bead_mm, or gap_mm, for as many rows as you can");
  if (out.readings.size() < sheet.rows())
    out.remarks.push_back(fmt::format("{}: {} of {} rows were left empty",
                                      sheet.name(),
                                      sheet.rows() - out.readings.size(),
                                      sheet.rows()));
  for (std::string const& remark : sheet.remarks())
    out.remarks.push_back(sheet.name() + ": " + remark);
  return out;
}

HardwareSpread spread_of(HardwareSheet const& sheet) {
  HardwareSpread out;
  auto const blobs = by_flow(sheet, blob), gaps = by_flow(sheet, gap);
  for (auto const& [flow, values] : blobs)
    at_flow(out.flows, flow).blob_mm3 = spread_within(values);
  for (auto const& [flow, values] : gaps) at_flow(out.flows, flow).gap_mm = spread_within(values);
  std::ranges::sort(out.flows, {}, &FlowSpread::flow_mm3_s);
  out.blob_mm3 = spread_over(blobs);
  out.gap_mm = spread_over(gaps);
  return out;
}

std::vector<double> without_flow(HardwareSheet const& sheet, Quantity quantity) {
  auto const groups = by_flow(sheet, quantity);
  double const common = spread_over(groups).mean;
  Values out;
  for (auto const& [flow, values] : groups) {
    double const mean = mean_of(values);
    for (double const value : values) out.push_back(value - mean + common);
  }
  return out;
}

bool same_file(HardwareSheet const& one, HardwareSheet const& other) {
  if (one.retract_mm && other.retract_mm && *one.retract_mm != *other.retract_mm) return false;
  auto const flows_of = [](HardwareSheet const& sheet) {
    std::vector<FlowSpread> flows;
    for (HardwareReading const& reading : sheet.readings) (void)at_flow(flows, reading.flow_mm3_s);
    std::ranges::sort(flows, {}, &FlowSpread::flow_mm3_s);
    return flows;
  };
  return std::ranges::equal(flows_of(one), flows_of(other), [](auto const& a, auto const& b) {
    return std::abs(a.flow_mm3_s - b.flow_mm3_s) <= 2 * same_flow_mm3_s;
  });
}

}  // namespace meltlag::fit
