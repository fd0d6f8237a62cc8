// SPDX-License-Identifier: MIT
#include "meltlag/base/error.hpp"

#include <utility>

namespace meltlag {

std::string to_string(Place const& place) {
  std::string text = place.file;
  for (auto const number : {place.line, place.column}) {
    if (number <= 0) break;
    if (!text.empty()) text += ':';
    text += std::to_string(number);
  }
  return text;
}

Error::Error(std::string what, Place where, std::string hint)
    : where_(std::move(where)), hint_(std::move(hint)), message_(to_string(where_)) {
  if (!message_.empty()) message_ += ": ";
  message_ += what;
  if (!hint_.empty()) message_ += "\n" + hint_;
}

}  // namespace meltlag
