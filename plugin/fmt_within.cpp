// SPDX-License-Identifier: GPL-3.0-or-later
// libfmt's functions, compiled into the plugin and hidden there: a host may bring a libfmt of its own,
// of another version or built otherwise.
#include <fmt/format-inl.h>

namespace fmt::detail {
template FMT_API auto thousands_sep_impl(locale_ref) -> thousands_sep_result<char>;
template FMT_API auto decimal_point_impl(locale_ref) -> char;
}  // namespace fmt::detail
