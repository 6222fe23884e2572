// SPDX-License-Identifier: GPL-3.0-or-later
// connection.hpp: why nothing answered at a connection, as far as that can be known.
//
// libsigrok says only that it found nothing. So the connection is looked at once more, in our own
// way: is there such a port, may it be opened, does anything listen, what does it say it is?
// Cost  kPatience_s at most.
#pragma once
#include <string>

#include "plugin/live/instrument_spec.hpp"

namespace airlatch {

struct Diagnosis {
  std::string what, mend;
  bool may_come = true;  // it is not there yet; false: what is there is not what was meant
};

inline constexpr double kPatience_s = 2;

// Of the setting `conn`: a device file, tcp-raw/HOST/PORT and the like. Of anything else nothing more
// is known than `otherwise`.
Diagnosis diagnose(const InstrumentSpec& spec, const Diagnosis& otherwise);

}  // namespace airlatch
