// SPDX-License-Identifier: MIT
// The static program only: Debian has this library with shared code alone, but its headers hold it.
#include <fmt/format-inl.h>

FMT_BEGIN_NAMESPACE
namespace detail {
template FMT_API auto dragonbox::to_decimal(float) noexcept -> dragonbox::decimal_fp<float>;
template FMT_API auto dragonbox::to_decimal(double) noexcept -> dragonbox::decimal_fp<double>;
template FMT_API locale_ref::locale_ref(std::locale const&);
template FMT_API auto locale_ref::get<std::locale>() const -> std::locale;
template FMT_API auto thousands_sep_impl(locale_ref) -> thousands_sep_result<char>;
template FMT_API auto decimal_point_impl(locale_ref) -> char;
template FMT_API void buffer<char>::append(char const*, char const*);
template FMT_API void vformat_to(buffer<char>&,
                                 string_view,
                                 basic_format_args<FMT_BUFFER_CONTEXT(char)>,
                                 locale_ref);
}  // namespace detail
FMT_END_NAMESPACE
