// SPDX-License-Identifier: MIT
// `meltlag documents`: manual pages and completion, for those who package the program. Made from
// the same words as --help, so that they cannot say something else. Not listed in the help.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_documents_command(CLI::App& app, int& status);

}  // namespace meltlag::cli
