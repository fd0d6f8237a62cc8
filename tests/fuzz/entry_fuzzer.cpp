// SPDX-License-Identifier: MIT
// How the fuzzing engine calls a target.
#include "target.hpp"

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* bytes, std::size_t size) {
  meltlag::fuzz::try_and_catch({reinterpret_cast<char const*>(bytes), size});
  return 0;
}
