// SPDX-License-Identifier: MIT
// Materials mixed by mass parts w_i (of the whole, Σ w_i = 1). Rules, each with a range that spans
// all that went in, since nobody knows how two melts lie in each other:
//   density          1/ρ = Σ w_i/ρ_i                 volumes add up
//   bulk modulus     1/B = Σ φ_i/B_i                 φ_i = w_i·ρ/ρ_i: both under one pressure
//   consistency      ln κ = Σ w_i·ln κ_i             the logarithmic rule usual for blends
//   all others       Σ w_i·x_i
//   longest residence time     the shortest of its parts'
//   sticks           the lowest of those that make a tenth or more: they glue the others together
// A value that one material lacks is not made up; the longest residence time is that of those that
// have one. Consistencies that hold for different temperatures are mixed as they stand, and at_c is
// left out.
#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <string>

#include "read_parts.hpp"

namespace meltlag::profile {
namespace {

using Tables = std::vector<toml::table>;

// One key of all materials; nothing where one of them lacks it or has no number there.
std::optional<std::vector<double>> all(Tables const& materials, std::string const& key) {
  std::vector<double> values;
  for (toml::table const& material : materials) {
    auto const value = material[key].value<double>();
    if (!value || !std::isfinite(*value)) return std::nullopt;
    values.push_back(*value);
  }
  return values;
}

enum class Mean { plain, logarithmic, reciprocal };

double mean_of(std::vector<double> const& weights, std::vector<double> const& values, Mean mean) {
  double sum = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    double const x = values[i];
    sum += weights[i] * (mean == Mean::plain ? x : mean == Mean::logarithmic ? std::log(x) : 1 / x);
  }
  return mean == Mean::plain ? sum : mean == Mean::logarithmic ? std::exp(sum) : 1 / sum;
}

// The lowest of all lows and the highest of all highs; a material without a range is its own.
double extreme(Tables const& materials, std::string const& key, char const* suffix, bool highest) {
  double found = 0;
  bool first = true;
  for (toml::table const& material : materials) {
    double const x =
        material[key + suffix].value<double>().value_or(*material[key].value<double>());
    if (first || (highest ? x > found : x < found)) found = x;
    first = false;
  }
  return found;
}

struct Key {
  char const* name;
  Mean mean;
  bool positive;
};
constexpr Key mixed_keys[] = {{"consistency_pa_sn", Mean::logarithmic, true},
                              {"flow_index", Mean::plain, true},
                              {"activation_kj_mol", Mean::plain, false},
                              {"softens_c", Mean::plain, false},
                              {"conductivity_w_m_k", Mean::plain, true},
                              {"heat_capacity_j_g_k", Mean::plain, true}};

}  // namespace

toml::table mixed(std::vector<double> const& parts, std::vector<toml::table> const& materials) {
  toml::table result;
  double const whole = std::accumulate(parts.begin(), parts.end(), 0.0);
  std::vector<double> weights;
  for (double const part : parts) weights.push_back(part / whole);
  auto const put = [&](char const* key, std::vector<double> const& w, Key const& how) {
    auto const values = all(materials, key);
    if (!values) return false;
    if (how.positive && std::ranges::any_of(*values, [](double x) { return x <= 0; })) return false;
    std::string const name = key;
    result.insert_or_assign(name, mean_of(w, *values, how.mean));
    result.insert_or_assign(name + "_low", extreme(materials, name, "_low", false));
    result.insert_or_assign(name + "_high", extreme(materials, name, "_high", true));
    return true;
  };
  if (put("density_g_cm3", weights, {"density_g_cm3", Mean::reciprocal, true})) {
    auto const densities = *all(materials, "density_g_cm3");
    double const density = *result["density_g_cm3"].value<double>();
    std::vector<double> volumes;
    for (std::size_t i = 0; i < weights.size(); ++i)
      volumes.push_back(weights[i] * density / densities[i]);
    put("bulk_modulus_mpa", volumes, {"bulk_modulus_mpa", Mean::reciprocal, true});
  }
  for (Key const& key : mixed_keys) put(key.name, weights, key);
  auto const at_c = all(materials, "at_c");
  if (at_c && std::ranges::all_of(*at_c, [&](double c) { return c == at_c->front(); }))
    result.insert_or_assign("at_c", at_c->front());
  constexpr double enough_to_glue = 0.1;
  std::optional<double> sticks;
  for (std::size_t i = 0; i < materials.size(); ++i)
    if (auto const c = materials[i]["sticks_c"].value<double>(); c && weights[i] >= enough_to_glue)
      sticks = std::min(*c, sticks.value_or(*c));
  if (sticks) result.insert_or_assign("sticks_c", *sticks);
  std::optional<double> shortest;
  for (toml::table const& material : materials)
    if (auto const residence = material["longest_residence_s"].value<double>())
      shortest = std::min(*residence, shortest.value_or(*residence));
  if (shortest) result.insert_or_assign("longest_residence_s", *shortest);
  return result;
}

}  // namespace meltlag::profile
