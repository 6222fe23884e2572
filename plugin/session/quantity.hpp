// SPDX-License-Identifier: GPL-3.0-or-later
// quantity.hpp: numbers with their uncertainty as people read them.
//
// JCGM 100 7.2.6: the standard uncertainty with two significant digits, the value to the same
// place.
#pragma once
#include <string>

namespace airlatch {

// "8.910 ± 0.050 A". Without a usable uncertainty (0 or not finite) the value with four digits.
std::string format_quantity(double value, double u, const std::string& unit);
// Its parts, for tables: the value rounded to u's place.
std::string format_value(double value, double u);
std::string format_u(double u);

}  // namespace airlatch
