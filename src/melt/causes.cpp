// SPDX-License-Identifier: MIT
#include "meltlag/melt/causes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "meltlag/base/vec.hpp"

namespace meltlag::melt {
namespace {

constexpr double blind_share = 0.5;  // of the measured run-on: what could be missing unseen
constexpr double deviations_for_a_finding = 2;  // 95 % of a normal distribution

std::vector<Doubtful<Machine>> doubtful_values(Machine machine, Deviations const& deviations) {
  std::vector<Doubtful<Machine>> doubtful;
  for (auto const& [key, sd] : deviations) {
    if (sd <= 0 || find_value(machine, key) == nullptr) continue;
    doubtful.push_back(
        {.key = key, .sd = sd, .find = [name = key](Machine& m) { return find_value(m, name); }});
  }
  return doubtful;
}

// The order in which results() lists them: five of the whole, then five of each share.
constexpr std::size_t of_whole = 5, of_share = 5;

std::vector<double> results(Machine const& machine, double flow_mm3_s) {
  PartsLag const lag = lag_from_parts(machine, flow_mm3_s);
  double const s = lag.law.run_on_mm3;
  std::vector<double> out{lag.melt_volume_mm3,
                          lag.pressure_mpa,
                          lag.thrust_n + machine.friction_n,
                          s,
                          lag_s(lag.law, flow_mm3_s)};
  for (Share const& share : lag.shares) {
    double const k = share.stiffness_n_per_mm;
    double const deflection = k > 0 ? lag.thrust_n / k : 0;
    double const part = share.run_on_mm3;
    out.insert(out.end(), {part, lag.law.flow_index * part / flow_mm3_s, part / s, k, deflection});
  }
  return out;
}

// Parts are counted through: the same number in the list may be another part.
bool same_thing(std::string_view key, Machine const& a, Machine const& b) {
  if (!key.starts_with("mechanics.parts[")) return true;
  auto const index = static_cast<std::size_t>(
      std::strtoul(std::string(key.substr(key.find('[') + 1)).c_str(), nullptr, 10));
  return a.parts.at(index).name == b.parts.at(index).name;
}

// What one share stores if the pressure pushes on the screw's own area only.
double least_of(Share const& share, Part const* part, ThrustArea area) {
  if (part == nullptr) return share.run_on_mm3;
  double const ratio = area.screw_mm2 / area.bore_mm2;
  return share.run_on_mm3 * (part->deflection_mm ? ratio : ratio * ratio);
}

std::vector<VolumePart> volumes_of(Barrel const& barrel, double gap_area_mm2) {
  std::vector<VolumePart> volumes;
  for (BarrelSection const& s : barrel.sections) {
    double const mm3 = s.length_mm * (circle_area(s.bore_mm) - circle_area(s.screw_core_mm));
    volumes.push_back({fmt::format("{:g} mm of {:g} mm bore", s.length_mm, s.bore_mm), mm3});
  }
  if (barrel.tube_melt_mm3 > 0) volumes.push_back({"melted in the tube", barrel.tube_melt_mm3});
  if (barrel.tip_gap_mm > 0)
    volumes.push_back(
        {fmt::format("tip gap of {:g} mm", barrel.tip_gap_mm), barrel.tip_gap_mm * gap_area_mm2});
  return volumes;
}

std::optional<WindUp> wind_up_of(Machine const& machine, PartsLag const& lag) {
  if (machine.friction_n <= 0) return std::nullopt;
  double softness = 0;  // Σ 1/k
  for (Share const& share : lag.shares)
    if (share.kind == ShareKind::part) softness += 1 / share.stiffness_n_per_mm;
  double const deflection = 2 * machine.friction_n * softness;
  return WindUp{machine.friction_n, deflection, lag.area.bore_mm2 * deflection};
}

std::vector<Cause> causes_of(Machine const& machine,
                             PartsLag const& lag,
                             std::vector<Uncertain> const& values) {
  std::vector<Cause> causes;
  std::size_t next_part = 0;
  for (std::size_t i = 0; i < lag.shares.size(); ++i) {
    Share const& share = lag.shares[i];
    bool const is_part = share.kind == ShareKind::part;
    Part const* part = is_part ? &machine.parts[next_part++] : nullptr;
    std::size_t const at = of_whole + of_share * i;
    causes.push_back({.kind = share.kind,
                      .name = share.name,
                      .run_on_mm3 = values[at],
                      .lag_s = values[at + 1],
                      .share = values[at + 2],
                      .least_run_on_mm3 = least_of(share, part, lag.area),
                      .stiffness_n_per_mm = values[at + 3],
                      .deflection_mm = values[at + 4]});
  }
  return causes;
}

// The deviation that two errors with this correlation make together.
double together(double a, double b, double correlation) {
  return std::sqrt(std::max(0.0, a * a + 2 * correlation * a * b + b * b));
}

}  // namespace

Causes find_causes(Machine const& machine, Deviations const& deviations, double at_flow_mm3_s) {
  auto const doubtful = doubtful_values(machine, deviations);
  Propagated const spread =
      propagate(machine, doubtful, [&](Machine const& m) { return results(m, at_flow_mm3_s); });
  PartsLag lag = lag_from_parts(machine, at_flow_mm3_s);
  Nozzle hole_alone = machine.nozzle;
  hole_alone.entrance_mm = 0;
  double const entrance =
      lag.pressure_mpa - nozzle_pressure_mpa(hole_alone, machine.material, at_flow_mm3_s);
  auto const& v = spread.values;
  Causes causes{.at_flow_mm3_s = at_flow_mm3_s,
                .parts = lag,
                .volumes = volumes_of(machine.barrel, lag.area.bore_mm2),
                .melt_volume_mm3 = v[0],
                .pressure_mpa = v[1],
                .thrust_n = v[2],
                .run_on_mm3 = v[3],
                .lag_s = v[4],
                .entrance_mpa = entrance,
                .least_lag_s = v[4].value * lag.least_run_on_mm3 / lag.law.run_on_mm3,
                .causes = causes_of(machine, lag, v),
                .doubts = {},
                .wind_up = wind_up_of(machine, lag)};
  for (std::size_t i = 0; i < doubtful.size(); ++i)
    if (double const part = std::abs(spread.by[i][3]); part > 0)
      causes.doubts.push_back({doubtful[i].key, part});
  std::ranges::stable_sort(causes.doubts, std::greater<>{}, &Doubt::run_on_sd_mm3);
  return causes;
}

Uncertain run_on_at_flow(MeasuredLag const& measured, double flow_mm3_s) {
  double const run_on = run_on_at_flow(measured.law, flow_mm3_s);
  double const by_run_on = measured.run_on_sd_mm3 / measured.law.run_on_mm3;
  double const by_index =
      measured.flow_index_sd * std::log(flow_mm3_s / measured.law.at_flow_mm3_s);
  return {run_on, run_on * together(by_run_on, by_index, measured.correlation)};
}

Uncertain lag_at_flow(MeasuredLag const& measured, double flow_mm3_s) {
  LagLaw const& law = measured.law;
  double const lag = lag_s(law, flow_mm3_s);
  double const by_run_on = measured.run_on_sd_mm3 / law.run_on_mm3;
  double const by_index =
      measured.flow_index_sd * (1 / law.flow_index + std::log(flow_mm3_s / law.at_flow_mm3_s));
  return {lag, lag * together(by_run_on, by_index, measured.correlation)};
}

BuildDifference difference(Build const& old_build, Build const& new_build, double at_flow_mm3_s) {
  struct Pair {
    Machine a, b;
  };
  Pair const pair{old_build.machine, new_build.machine};
  std::vector<Doubtful<Pair>> doubtful;
  for (auto const& of_old : doubtful_values(pair.a, old_build.deviations))
    doubtful.push_back({.key = of_old.key, .sd = of_old.sd, .find = [of_old](Pair& p) {
                          return of_old.find(p.a);
                        }});
  for (auto const& of_new : doubtful_values(pair.b, new_build.deviations)) {
    auto const find = [of_new](Pair& p) { return of_new.find(p.b); };
    auto const twin = std::ranges::find(doubtful, of_new.key, &Doubtful<Pair>::key);
    Pair copy = pair;
    if (twin != doubtful.end() && twin->sd == of_new.sd && *twin->find(copy) == *find(copy) &&
        same_thing(of_new.key, pair.a, pair.b))
      twin->also = find;
    else
      doubtful.push_back({.key = of_new.key, .sd = of_new.sd, .find = find});
  }
  auto const values = propagate(pair, doubtful, [&](Pair const& p) {
                        std::vector<double> a = results(p.a, at_flow_mm3_s),
                                            b = results(p.b, at_flow_mm3_s);
                        std::vector<double> out(of_whole);
                        for (std::size_t i = 0; i < of_whole; ++i) out[i] = b[i] - a[i];
                        return out;
                      }).values;
  return {values[0], values[1], values[2], values[3], values[4]};
}

Finding compare_with_measured(Causes const& causes, MeasuredLag const& measured) {
  Uncertain const seen = run_on_at_flow(measured, causes.at_flow_mm3_s);
  Uncertain const parts = causes.run_on_mm3;
  Finding finding{.measured_mm3 = seen,
                  .parts_mm3 = parts,
                  .least_parts_mm3 = causes.parts.least_run_on_mm3,
                  .difference_mm3 = {seen.value - parts.value, std::hypot(seen.sd, parts.sd)},
                  .reading = Reading::explained};
  double const margin = deviations_for_a_finding * finding.difference_mm3.sd;
  if (seen.value > parts.value + margin) finding.reading = Reading::more;
  if (seen.value < finding.least_parts_mm3 - margin) finding.reading = Reading::less;
  if (finding.reading == Reading::explained && margin > blind_share * seen.value)
    finding.reading = Reading::cannot_tell;
  return finding;
}

}  // namespace meltlag::melt
