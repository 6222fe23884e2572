// SPDX-License-Identifier: GPL-3.0-or-later
// words.hpp: codes and results as words for people.
#pragma once
#include <string>
#include <vector>

#include "plugin/message/report.hpp"

namespace airlatch {

std::string outcome_words(Outcome outcome);
// "run_time 2.13 ± 0.01 s, at most 4 s: PASS".
std::string limit_words(const Report::LimitResult& limit);

// "run_time 3.1 ± 0.1 -> 2.0 ± 0.1 s, change -1.10 ± 0.14: improved", or why it is not comparable.
std::string change_words(const Report::Change& change);

// What the contacts are, what was tried, and the next trial: one line each.
std::vector<std::string> contact_words(const Report::ContactFinding& found);

}  // namespace airlatch
