// SPDX-License-Identifier: GPL-3.0-or-later
// measure_words.hpp: what each measure is: for the customer, for the technician, for a stranger.
#pragma once
#include <span>
#include <string>
#include <string_view>

#include "decoders/event.hpp"
#include "plugin/report/language.hpp"

namespace airlatch {

struct MeasureRow {
  const char* name;        // as the contract has it
  const char* customer;    // to be translated
  const char* definition;  // exact
};
std::span<const MeasureRow> measure_rows();

// "run time", for the technician.
std::string measure_name(std::string_view measure);
// For the customer; nothing else than measure_name where the table has no row.
std::string customer_name(std::string_view measure, const Language& language);

// A value for the customer: no digit that is not sure, three at most; a share in per cent. `below`:
// it cannot be told from nothing, and is at most that.
struct CustomerFigure {
  double value = 0, u = 0;
  std::string text = {};
};
CustomerFigure customer_figure(const Measure& measure, bool bound, const Language& language);
// A limit's number in the same unit, "4 s".
std::string customer_number(double value, std::string_view measure, const std::string& unit,
                            const Language& language);
// What a customer's figure is multiplied by: 100 for a share, -1 for a vacuum.
double customer_factor(const Measure& measure);

}  // namespace airlatch
