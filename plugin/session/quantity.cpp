// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/quantity.hpp"

#include <fmt/format.h>

#include <cmath>

namespace airlatch {
namespace {

constexpr int kMostDecimals = 12;

// Decimals that leave two significant digits of u; negative: tens and more are rounded away.
int decimals_of(double u) {
  int place = 1 - static_cast<int>(std::floor(std::log10(u)));
  // 0.0996 rounds to 0.10, which has its two digits one place further left.
  const double rounded = std::round(u * std::pow(10, place)) / std::pow(10, place);
  return 1 - static_cast<int>(std::floor(std::log10(rounded) + 1e-9));
}

std::string to_place(double value, int decimals) {
  if (decimals > kMostDecimals) decimals = kMostDecimals;
  if (decimals >= 0) {
    std::string text = fmt::format("{:.{}f}", value, decimals);
    // No "-0.00".
    if (text.find_first_of("123456789") == std::string::npos && text[0] == '-') text.erase(0, 1);
    return text;
  }
  const double step = std::pow(10, -decimals);
  return fmt::format("{:.0f}", std::round(value / step) * step);
}

bool usable(double u) { return std::isfinite(u) && u > 1e-15; }

}  // namespace

std::string format_value(double value, double u) {
  return usable(u) ? to_place(value, decimals_of(u)) : fmt::format("{:.4g}", value);
}

std::string format_u(double u) { return usable(u) ? to_place(u, decimals_of(u)) : "0"; }

std::string format_quantity(double value, double u, const std::string& unit) {
  const std::string tail = unit.empty() ? "" : " " + unit;
  if (!usable(u)) return format_value(value, u) + tail;
  return format_value(value, u) + " ± " + format_u(u) + tail;
}

}  // namespace airlatch
