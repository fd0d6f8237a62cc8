# SPDX-License-Identifier: MIT
# Writes HEADER with the commit of SOURCE, at each build, but touches it only when it has changed.
set(commit "")
execute_process(COMMAND git -C ${SOURCE} describe --always --dirty --abbrev=10 --match=
                OUTPUT_VARIABLE commit ERROR_QUIET OUTPUT_STRIP_TRAILING_WHITESPACE)
if(commit)
  string(PREPEND commit " (")
  string(APPEND commit ")")
endif()
file(CONFIGURE OUTPUT ${HEADER} CONTENT [[// SPDX-License-Identifier: MIT
#pragma once
inline constexpr char meltlag_commit[] = "@commit@";
]] @ONLY)
