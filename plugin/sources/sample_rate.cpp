// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/sample_rate.hpp"

#include <fmt/format.h>

#include "plugin/system/input_error.hpp"

namespace airlatch {

SampleClock clock_of_rate(double rate_hz, const std::string& file, const std::string& place) {
  const auto clock = SampleClock::of_rate_hz(rate_hz);
  if (!clock)
    throw InputError(ExitStatus::kUnusableData, file, place,
                     fmt::format("{:.6g} samples a second cannot be used", rate_hz),
                     fmt::format("rates from {:.0e} to {:.0e} can be: record it again, or give the "
                                 "true rate",
                                 SampleClock::kLeastRate_hz, SampleClock::kMostRate_hz));
  return *clock;
}

}  // namespace airlatch
