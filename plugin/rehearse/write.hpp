// SPDX-License-Identifier: GPL-3.0-or-later
// write.hpp: a rehearsal as files: delimited text, a libsigrok session, its truth, its rig.
#pragma once
#include <string>

#include "plugin/rehearse/rehearsal.hpp"

namespace airlatch {

struct CsvStyle {
  char separator = ',';
  bool decimal_comma = false;
  int digits = 6;  // significant
};

// All write to a temporary file beside `path` and rename it; InputError where they cannot.
void write_csv(const std::string& path, const Rehearsal& rehearsal, const CsvStyle& style = {});
void write_session(const std::string& path, const Rehearsal& rehearsal);  // .sr
void write_truth(const std::string& path, const Rehearsal& rehearsal);    // event JSON lines
void write_rig(const std::string& path, const Rehearsal& rehearsal);      // protobuf text

}  // namespace airlatch
