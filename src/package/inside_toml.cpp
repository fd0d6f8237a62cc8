// SPDX-License-Identifier: MIT
// The static program only: Debian has this library with shared code alone, but its headers hold it.
#define TOML_HEADER_ONLY 0
#define TOML_IMPLEMENTATION
#include <toml++/toml.h>
