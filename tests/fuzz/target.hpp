// SPDX-License-Identifier: MIT
// One fuzz target a file: `try_bytes` must come back, or throw Error, whatever the bytes are.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <iostream>
#include <string_view>

#include "meltlag/base/error.hpp"

namespace meltlag::fuzz {

void try_bytes(std::string_view bytes);

// A broken promise ends the run, so that the bytes after it are kept.
inline void promise(bool kept, std::string_view what) {
  if (kept) return;
  std::cerr << "broken promise: " << what << '\n';
  std::abort();
}

// The user's input may be at fault, but then the message says so in words.
inline void try_and_catch(std::string_view bytes) {
  try {
    try_bytes(bytes);
  } catch (Error const& error) {
    promise(*error.what() != '\0', "an error without words");
  }
}

}  // namespace meltlag::fuzz
