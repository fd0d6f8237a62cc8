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
    : where_(std::move(where)), hint_(std::move(hint)), message_(std::move(what)) {
  if (std::string const place = to_string(where_); !place.empty()) message_.insert(0, place + ": ");
  if (!hint_.empty()) message_ += "\n" + hint_;
}

}  // namespace meltlag
