// SPDX-License-Identifier: MIT
#include "meltlag/base/diagnostic.hpp"

#include <string_view>

namespace meltlag {

void Notices::note(std::string_view text, std::int64_t line) {
  static constexpr std::string_view rest = "further kinds of notice, not listed singly";
  std::lock_guard const lock(mutex_);
  auto found = index_.find(text);
  if (found == index_.end()) {
    if (notices_.size() >= most_kinds) text = rest;
    found = index_.try_emplace(std::string(text), notices_.size()).first;
    if (found->second == notices_.size()) notices_.push_back({.text = std::string(text)});
  }
  Notice& notice = notices_[found->second];
  ++notice.count;
  if (notice.lines.size() < lines_kept) notice.lines.push_back(line);
}

std::vector<Notice> Notices::list() const {
  std::lock_guard const lock(mutex_);
  return notices_;
}

}  // namespace meltlag
