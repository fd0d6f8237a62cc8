// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "reference.hpp"

namespace meltlag_reference {

struct NamedVerdict {
  std::string name;
  Verdict verdict;
};

/// One row a figure, its name first, one column a verdict.
void print_table(const std::vector<NamedVerdict>& columns);
/// {"columns": {NAME: {FIGURE: number, …}, …}, "violations": […]}
void print_json(const std::vector<NamedVerdict>& columns,
                const std::vector<std::string>& violations);

}  // namespace meltlag_reference
