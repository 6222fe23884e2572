// words.hpp: codes as people say them.
#pragma once
#include <string>
#include <vector>

#include "airlatch/v1/report.pb.h"

namespace airlatch {

std::string finding_words(const std::string& code);
std::string outcome_words(v1::Report::Outcome outcome);
// "run_time 2.13 ± 0.01 s, at most 4 s: PASS".
std::string limit_words(const v1::Report::LimitResult& limit);

// "run_time 3.1 ± 0.1 -> 2.0 ± 0.1 s, change -1.10 ± 0.14: improved", or why it is not comparable.
std::string change_words(const v1::Report::Change& change);

// What the contacts are, what was tried, and the next trial: one line each.
std::vector<std::string> contact_words(const v1::Report::ContactFinding& found);

}  // namespace airlatch
