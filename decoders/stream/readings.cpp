// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/readings.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// Gauge pressures end at a vacuum: 101.3 kPa below ambient, some 4 kPa for weather and for sensors.
constexpr Believable kPressure = {{-105, kInfinity}, {-100, 700}};
constexpr Believable kCurrent = {{-1000, 1000}, {-100, 100}};
constexpr Believable kVoltage = {{-1000, 1000}, {-60, 60}};
constexpr Believable kTemperature = {{-273.15, kInfinity}, {-60, 100}};
constexpr Believable kAnything = {{-kInfinity, kInfinity}, {-kInfinity, kInfinity}};

bool within(double value, const Believable::Span& span) {
  return value >= span.least && value <= span.most;
}

}  // namespace

const Believable& believable(Role role) {
  switch (role) {
    case Role::LINE_PRESSURE:
    case Role::BRANCH_PRESSURE:
      return kPressure;
    case Role::MOTOR_CURRENT:
      return kCurrent;
    case Role::AIR_TEMPERATURE:
      return kTemperature;
    case Role::SUPPLY_VOLTAGE:
    case Role::FEED_A_VOLTAGE:
    case Role::FEED_B_VOLTAGE:
    case Role::RETURN_VOLTAGE:
    case Role::COMMAND_LEVEL:
    case Role::FUSE_VOLTAGE:
      return kVoltage;
    case Role::UNSPECIFIED:
      break;
  }
  return kAnything;
}

void Readings::Watch::take(double value, double time_s, const Believable::Span& span) {
  if (within(value, span)) {
    row = 0;
    return;
  }
  if (seen.readings == 0) seen.first_s = time_s;
  if (seen.readings == 0 || std::abs(value) > std::abs(seen.worst)) seen.worst = value;
  if (row == 0) row_from_s = time_s;
  ++seen.readings;
  ++row;
  seen.in_a_row = seen.in_a_row || (row >= kLastingReadings && time_s - row_from_s >= kLasting_s);
}

void Readings::take(const SampleBlock& scaled, const Extremes& extremes, double zero,
                    std::int64_t t0_ns) {
  if (scaled.values.empty()) return;
  zero_ = zero;
  const auto in_rest = [&](std::size_t i) {
    return static_cast<double>(scaled.time_ns(i) - t0_ns) * 1e-9 < kRest_s;
  };
  rest_over_ = rest_over_ || !in_rest(0);
  const bool parted = !rest_over_ && !in_rest(scaled.values.size() - 1);
  const bool fine = extremes.all_finite && extremes.least <= extremes.most;
  const Believable& allowed = believable(role_);
  const auto least = static_cast<double>(extremes.least), most = static_cast<double>(extremes.most);
  if (parted || !fine || !within(least, allowed.likely) || !within(most, allowed.likely)) {
    look_at_each(scaled, t0_ns);
    return;
  }
  if (!rest_over_) {
    const auto n = static_cast<double>(scaled.values.size());
    rest_n_ += std::ssize(scaled.values);
    rest_ += (sum(scaled.values) + n * (zero - rest_)) / static_cast<double>(rest_n_);
  }
  unlikely_.row = impossible_.row = 0;
  count_ += std::ssize(scaled.values);
  least_ = std::min(least_, least);
  most_ = std::max(most_, most);
}

void Readings::look_at_each(const SampleBlock& scaled, std::int64_t t0_ns) {
  const Believable& allowed = believable(role_);
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    const auto value = static_cast<double>(scaled.values[i]);
    if (!std::isfinite(value)) continue;
    const double time_s = static_cast<double>(scaled.time_ns(i) - t0_ns) * 1e-9;
    ++count_;
    least_ = std::min(least_, value);
    most_ = std::max(most_, value);
    if (time_s < kRest_s) rest_ += (value + zero_ - rest_) / static_cast<double>(++rest_n_);
    impossible_.take(value, time_s, allowed.possible);
    unlikely_.take(value, time_s, allowed.likely);
  }
}

double Readings::rest() const {
  return rest_n_ > 0 ? rest_ : std::numeric_limits<double>::quiet_NaN();
}

bool Readings::lasting(const Beyond& beyond, bool ended) const {
  return beyond.in_a_row ||
         (ended && beyond.readings >= kLastingReadings && beyond.readings * 100 >= count_);
}

}  // namespace airlatch
