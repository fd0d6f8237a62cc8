// SPDX-License-Identifier: MIT
#include "meltlag/profile/interview.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>

#include "meltlag/base/text.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/profile/load_test.hpp"
#include "sense.hpp"

namespace meltlag::profile {
namespace {

constexpr std::string_view barrel_sketch = R"(
        granules
           |              melted part L        gap g
      _____v________|<------------------->|<------>|____
     |      /   /   /   /   /   /   /   /  .           |
  [motor]==/===/===/===/===/===/===/===/===>            )= nozzle
     |____/___/___/___/___/___/___/___/_________________|

     B bore inside, S screw over its flights, C core of the screw between them
)";

constexpr std::string_view holder_sketch = R"(
     The melt pushes the screw back; whatever holds it gives way a little.
     Hang a weight on the screw, in its own direction, and read how far it moves.
)";

constexpr std::string_view lag_sketch = R"(
     Let the screw run until the strand is steady, stop it, and weigh what still comes out:
     mm³ = grams · 1000 / (g/cm³).
)";

constexpr auto all_questions = std::to_array<Question>({
    {"title", "What is the machine called?", AnswerKind::text},
    {"filament", "Filament diameter set in the slicer, mm", AnswerKind::number},
    {"bore",
     "B, bore of the barrel where the plastic is molten, mm",
     AnswerKind::number,
     barrel_sketch},
    {"screw", "S, screw over its flights, mm", AnswerKind::number},
    {"core", "C, core of the screw, mm", AnswerKind::number},
    {"length", "L, length of the molten part along the screw, mm", AnswerKind::number},
    {"gap", "g, free length from the screw's tip to the nozzle, mm", AnswerKind::number},
    {"hole", "Diameter of the nozzle's hole, mm", AnswerKind::number},
    {"hole_length", "Length of the nozzle's hole, mm", AnswerKind::number},
    {"holder", "What holds the screw against the push?", AnswerKind::text, holder_sketch},
    {"weight", "Weight hung on the screw, kg", AnswerKind::number},
    {"give", "How far the screw moved, mm", AnswerKind::number},
    {"material", "Material", AnswerKind::material},
    {"max_flow", "The most that the screw feeds, mm³/s", AnswerKind::number},
    {"run_on", "Plastic that came out after the stop, mm³", AnswerKind::number, lag_sketch},
    {"at_flow", "Steady flow before the stop, mm³/s", AnswerKind::number},
    {"index",
     "Flow index: 1 if half the flow gives half the run-on, less if it gives more",
     AnswerKind::number},
});

// Where the answer goes to, for what can be meant there.
struct Goes {
  std::string_view question, section, key;
};
constexpr auto goes = std::to_array<Goes>({{"filament", "feed", "slicer_diameter_mm"},
                                           {"bore", "barrel.sections", "bore_mm"},
                                           {"screw", "barrel", "screw_diameter_mm"},
                                           {"length", "barrel.sections", "length_mm"},
                                           {"gap", "barrel", "tip_gap_mm"},
                                           {"hole", "nozzle", "diameter_mm"},
                                           {"hole_length", "nozzle", "hole_length_mm"},
                                           {"give", "mechanics.parts", "deflection_mm"},
                                           {"max_flow", "limits", "max_flow_mm3_s"},
                                           {"run_on", "lag", "run_on_mm3"},
                                           {"at_flow", "lag", "at_flow_mm3_s"},
                                           {"index", "lag", "flow_index"}});

struct Amount {
  double value;
  std::string unit;  // with m3 for m³, as typed else
};

// A decimal point or a decimal comma, and what stands after; nothing where it is no number.
std::optional<Amount> read_amount(std::string_view answer) {
  std::string text{answer};
  std::ranges::replace(text, ',', '.');
  double value = 0;
  auto const [stop, problem] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (problem != std::errc{} || !std::isfinite(value)) return std::nullopt;
  std::string unit{trim(std::string_view{stop, text.data() + text.size()})};
  for (std::string_view const cube : {"³", "^3"})
    if (auto const at = unit.find(cube); at != std::string::npos)
      unit.replace(at, cube.size(), "3");
  return Amount{value, std::move(unit)};
}

// What the prompt ends with: "mm" of "Length of the nozzle's hole, mm"; empty where it has none.
std::string_view unit_of(Question const& question) {
  constexpr std::string_view units[] = {"mm³/s", "mm³", "mm", "kg"};
  auto const found = std::ranges::find_if(
      units, [&](std::string_view unit) { return question.prompt.ends_with(unit); });
  return found == std::end(units) ? "" : *found;
}

bool is_unit_of(std::string const& typed, Question const& question) {
  std::string expected{unit_of(question)};
  if (auto const at = expected.find("³"); at != std::string::npos)
    expected.replace(at, std::string_view{"³"}.size(), "3");
  return typed.empty() || typed == expected;
}

// What cannot be meant, in a sentence; empty where nothing is known against it.
std::string slip(Question const& question, double value) {
  auto const* const key = std::ranges::find(goes, question.name, &Goes::question);
  if (key == goes.end()) return {};
  std::string const wrong = makes_no_sense(key->section, key->key, value);
  return wrong.empty() ? wrong : fmt::format("{} {}: {}", value, unit_of(question), wrong);
}

}  // namespace

std::span<Question const> Interview::questions() { return all_questions; }

std::string Interview::take(Question const& question, std::string_view answer) {
  if (answer.ends_with('\r')) answer.remove_suffix(1);
  answer = trim(answer);
  if (answer.empty()) return {};
  if (question.kind == AnswerKind::number) return take_number(question, answer);
  if (question.kind == AnswerKind::text) {
    texts_[std::string{question.name}] = answer;
    return {};
  }
  auto const known = std::ranges::find_if(
      materials_, [&](std::string const& name) { return same_ignoring_case(name, answer); });
  if (known == materials_.end())
    return fmt::format("Known are {}; Enter for \"don't know\"", fmt::join(materials_, ", "));
  texts_[std::string{question.name}] = *known;
  return {};
}

std::string Interview::take_number(Question const& question, std::string_view answer) {
  std::optional<Amount> const amount = read_amount(answer);
  if (!amount) return "Please give a number, or Enter for \"don't know\"";
  if (!is_unit_of(amount->unit, question)) {
    std::string_view const unit = unit_of(question);
    return unit.empty() ? "Please give a number without a unit"
                        : fmt::format("Please give it in {}", unit);
  }
  double const value = amount->value;
  bool const may_be_zero = question.name == "gap" || question.name == "core";
  if (value < 0 || (value == 0 && !may_be_zero))
    return "Please give a number above 0, or Enter for \"don't know\"";
  if (question.name == "core" && knows({"bore"}) && value >= given("bore"))
    return fmt::format("The core has to be thinner than the bore of {} mm", given("bore"));
  if (question.name == "screw" && knows({"bore"}) && value > given("bore"))
    return fmt::format("The screw has to fit into the bore of {} mm", given("bore"));
  if (std::string wrong = slip(question, value); !wrong.empty()) return wrong;
  numbers_[std::string{question.name}] = value;
  return {};
}

bool Interview::knows(std::initializer_list<std::string_view> names) const {
  return std::ranges::all_of(
      names, [&](auto name) { return numbers_.contains(name) || texts_.contains(name); });
}

bool Interview::knows_any(std::initializer_list<std::string_view> names) const {
  return std::ranges::any_of(names, [&](auto name) { return knows({name}); });
}

StarterValues Interview::values() const {
  StarterValues values;
  auto const set = [&](char const* key, std::string_view name) {
    if (knows({name})) values[key] = toml_number(given(name));
  };
  if (knows({"title"})) values["title"] = toml_quoted(texts_.at("title"));
  set("feed.slicer_diameter_mm", "filament");
  if (knows({"bore", "core", "length"})) {
    values["barrel.sections"] =
        fmt::format("[{{ length_mm = {}, bore_mm = {}, screw_core_mm = {} }}]",
                    toml_number(given("length")),
                    toml_number(given("bore")),
                    toml_number(given("core")));
    set("barrel.tip_gap_mm", "gap");
    set("barrel.screw_diameter_mm", "screw");
  }
  if (knows({"hole", "hole_length"})) {
    set("nozzle.diameter_mm", "hole");
    set("nozzle.hole_length_mm", "hole_length");
  }
  if (knows({"holder", "weight", "give"}))
    values["mechanics.parts"] =
        fmt::format("[{{ name = {}, n_per_mm = {} }}]",
                    toml_quoted(texts_.at("holder")),
                    toml_number(newtons_per_kg * given("weight") / given("give"), 3));
  if (knows({"material"})) values["material.use"] = toml_quoted(texts_.at("material"));
  set("limits.max_flow_mm3_s", "max_flow");
  if (knows({"run_on", "at_flow", "index"})) {
    set("lag.run_on_mm3", "run_on");
    set("lag.at_flow_mm3_s", "at_flow");
    set("lag.flow_index", "index");
  }
  return values;
}

std::vector<std::string> Interview::understood() const {
  std::vector<std::string> words;
  StarterValues const known = values();
  for (auto const& [key, value] : known) words.push_back(fmt::format("{} = {}", key, value));
  auto const half =
      [&](char const* key, std::initializer_list<std::string_view> any, char const* needs) {
        if (!known.contains(key) && knows_any(any)) words.emplace_back(needs);
      };
  half("barrel.sections",
       {"bore", "core", "length", "gap", "screw"},
       "barrel: left out, it needs bore, core and length");
  half("nozzle.diameter_mm",
       {"hole", "hole_length"},
       "nozzle: left out, it needs diameter and length of the hole");
  half("mechanics.parts",
       {"holder", "weight", "give"},
       "mechanics: left out, it needs name, weight and movement");
  half("lag.run_on_mm3",
       {"run_on", "at_flow", "index"},
       "lag: left out, it needs run-on, flow and flow index");
  return words;
}

}  // namespace meltlag::profile
