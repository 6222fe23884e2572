// SPDX-License-Identifier: GPL-3.0-or-later
// instrument_spec.hpp: the command-line argument that names one live instrument.
//
// In    "driver[:key=value...]": libsigrok's driver id, its scan options (conn, serialcomm, ...)
//       and device settings (samplerate, ...) by libsigrok's own names; `as=a,b` names its
//       channels.
#pragma once
#include <string>
#include <utility>
#include <vector>

namespace airlatch {

struct InstrumentSpec {
  std::string text, driver;
  std::vector<std::pair<std::string, std::string>> settings;
  std::vector<std::string> names;  // of `as`; channels beyond them keep the device's own
};

// Throws InputError (kUsage).
InstrumentSpec parse_instrument(const std::string& text);

}  // namespace airlatch
