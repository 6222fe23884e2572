// SPDX-License-Identifier: GPL-3.0-or-later
// finding_text.hpp: findings as a customer reads them.
#pragma once
#include <string>
#include <vector>

#include "plugin/report/language.hpp"

namespace airlatch {

struct FindingText {
  const char* code;
  const char* found;  // what is the case
  const char* next;   // what is to be done about it
  const char* part;   // what nobody looked at where it can neither be shown nor ruled out
};
// The row of a code that a newer version wrote says only that.
const FindingText& text_of_finding(const std::string& code);

// "the source, the motor": of Report::untested, each once; empty where all was tested.
std::string untested_parts(const std::vector<std::string>& codes, const Language& language);

}  // namespace airlatch
