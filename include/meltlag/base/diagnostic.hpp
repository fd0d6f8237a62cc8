// SPDX-License-Identifier: MIT
// Damage or oddities inside a long file never stop the stream: they are noted and the line passes
// through.
#pragma once

#include <cstdint>
#include <map>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

namespace meltlag {

// One kind of notice with its first places.
struct Notice {
  std::string text;                      // in the user's words, no line number in it
  std::int64_t count = 0;                // how often it was noted
  std::vector<std::int64_t> lines = {};  // the first few 1-based lines, in the order noted
};

// Collects notices, grouped by text. Safe to call from several threads.
// Keeps at most `most_kinds` texts; further ones are counted under a closing notice.
class Notices {
 public:
  void note(std::string_view text, std::int64_t line);
  // In the order in which each text was first noted. Call when nobody notes any more.
  [[nodiscard]] std::vector<Notice> list() const;

 private:
  static constexpr std::size_t most_kinds = 200;
  static constexpr std::size_t lines_kept = 5;
  mutable std::mutex mutex_;
  std::map<std::string, std::size_t, std::less<>> index_;
  std::vector<Notice> notices_;
};

}  // namespace meltlag
