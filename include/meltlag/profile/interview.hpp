// SPDX-License-Identifier: MIT
// The questions that a starter can be filled from, and what the answers mean. Prints nothing
// itself: the caller shows each prompt and hands back the line that was typed.
#pragma once

#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/profile/starter.hpp"

namespace meltlag::profile {

enum class AnswerKind { text, number, material };

struct Question {
  std::string_view name;    // short, for take()
  std::string_view prompt;  // with the unit
  AnswerKind kind;
  std::string_view sketch = {};  // shown before the prompt
};

class Interview {
 public:
  // `materials`: names that may be answered where a material is asked for.
  explicit Interview(std::vector<std::string> materials) : materials_(std::move(materials)) {}

  [[nodiscard]] static std::span<Question const> questions();
  // The materials that may be answered.
  [[nodiscard]] std::vector<std::string> const& materials() const { return materials_; }
  // Keeps an answer; blank means "don't know". A number may have the prompt's unit after it and a
  // decimal comma, a material any capitals. Returns what is wrong with it as a sentence without its
  // full stop: ask again then; empty where nothing is.
  [[nodiscard]] std::string take(Question const& question, std::string_view answer);

  // What the answers give for a starter; sections that are only half known are left out.
  [[nodiscard]] StarterValues values() const;
  // The same in words, and what is still needed where something is only half known.
  [[nodiscard]] std::vector<std::string> understood() const;

 private:
  [[nodiscard]] std::string take_number(Question const& question, std::string_view answer);
  [[nodiscard]] bool knows(std::initializer_list<std::string_view> names) const;
  [[nodiscard]] bool knows_any(std::initializer_list<std::string_view> names) const;
  [[nodiscard]] double given(std::string_view name) const { return numbers_.find(name)->second; }

  std::vector<std::string> materials_;
  std::map<std::string, double, std::less<>> numbers_;
  std::map<std::string, std::string, std::less<>> texts_;
};

}  // namespace meltlag::profile
