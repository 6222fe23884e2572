// SPDX-License-Identifier: GPL-3.0-or-later
// instrument_list.hpp: what libsigrok finds connected, and the drivers it has.
#pragma once
#include <string>
#include <vector>

namespace airlatch {

struct FoundInstrument {
  std::string driver, about;  // about: maker's and model's own words
  std::vector<std::string> channels;
  std::string rates;  // in words
};

// Asks the drivers that find their devices by themselves, or the one named with its connection.
// Throws InputError (kNoInstrument) where the driver is not known or nothing is there.
std::vector<FoundInstrument> find_instruments(const std::string& spec = "");

// All drivers of this libsigrok, "id: description" each.
std::vector<std::string> list_drivers();

}  // namespace airlatch
