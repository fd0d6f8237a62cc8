// SPDX-License-Identifier: MIT
// Whether this build watches memory or threads, several times slower. Repetitions of one
// computation may be fewer there: they find no error of memory that the first ones do not.
#pragma once

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
inline constexpr bool sanitized = true;
#else
inline constexpr bool sanitized = false;
#endif
