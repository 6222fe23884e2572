// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/plausibility.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>

namespace airlatch {
namespace {

// The air's pressure where people live, and its weather (ICAO standard atmosphere: 1500 m to below
// sea level). A gauge that begins there and stays above kVacuumOf_kpa may be an absolute sensor.
constexpr double kAirLeast_kpa = 85, kAirMost_kpa = 108, kVacuumOf_kpa = 20;
// Whatever is learnt as ambient pressure must lie here (5000 m to below sea level).
constexpr double kAmbientLeast_kpa = 50, kAmbientMost_kpa = 110;
constexpr std::int64_t kFrozenReadings = 20;
constexpr double kClearEnd_kpa = 10;

bool is_pressure(Role role) { return role == Role::LINE_PRESSURE || role == Role::BRANCH_PRESSURE; }

bool within(double value, double least, double most) { return value >= least && value <= most; }

struct OtherUnit {
  Dimension dimension;
  const char* name;
  double scale, offset;
};
// What is most often meant where a number is too large for its role.
constexpr std::array kOtherUnits = {
    OtherUnit{Dimension::kPressure, "mbar", 0.1, 0},
    OtherUnit{Dimension::kPressure, "Pa", 1e-3, 0},
    OtherUnit{Dimension::kCurrent, "mA", 1e-3, 0},
    OtherUnit{Dimension::kVoltage, "mV", 1e-3, 0},
    OtherUnit{Dimension::kTemperature, "K", 1, -273.15},
    OtherUnit{Dimension::kTemperature, "°F", 5.0 / 9, -160.0 / 9},
};

std::string reads(double value, const ChainChannel& channel) {
  return fmt::format("{:.4g} {}", value, unit_of(channel.rig.role));
}

std::string mend_of(const ChainChannel& channel, const Readings& readings, bool as_written) {
  const double rest = readings.rest();
  if (is_pressure(channel.rig.role) && !channel.rig.absolute && as_written) {
    if (within(rest, kAirLeast_kpa, kAirMost_kpa))
      return fmt::format(
          "at rest it reads {:.1f}: an absolute sensor? put absolute: true in its entry in the rig",
          rest);
    for (const OtherUnit& other : {OtherUnit{Dimension::kPressure, "hPa", 0.1, 0}, kOtherUnits[1]})
      if (within(rest * other.scale, kAirLeast_kpa, kAirMost_kpa))
        return fmt::format(
            "at rest it reads {:.5g}: an absolute sensor in {}? put unit: \"{}\" absolute: true in "
            "its entry in the rig",
            rest, other.name, other.name);
  }
  if (!as_written) return "check the unit, scale and offset that the rig and the file give it";
  const Believable::Span& likely = believable(channel.rig.role).likely;
  for (const OtherUnit& other : kOtherUnits) {
    if (other.dimension != dimension_of(channel.rig.role)) continue;
    if (within(other.scale * readings.least() + other.offset, likely.least, likely.most) &&
        within(other.scale * readings.most() + other.offset, likely.least, likely.most))
      return fmt::format("is it in {0}? then put unit: \"{0}\" in its entry in the rig",
                         other.name);
  }
  return "give it its unit, or its scale and offset, in the rig; or leave the channel out";
}

const char* why_impossible(Role role) {
  if (is_pressure(role)) return "a gauge pressure ends at a perfect vacuum, -101 kPa";
  if (role == Role::AIR_TEMPERATURE) return "that is below absolute zero";
  if (role == Role::MOTOR_CURRENT) return "no lead of such a pump carries that";
  return "nothing on a vehicle has that";
}

std::optional<Implausible> impossible(const ChainChannel& channel, const Readings& readings,
                                      bool as_written, bool ended) {
  if (readings.lasting(readings.impossible(), ended))
    return Implausible{channel.rig.source,
                       fmt::format("as {} it reads {} at {:.4g} s: {}", name_of(channel.rig.role),
                                   reads(readings.impossible().worst, channel),
                                   readings.impossible().first_s, why_impossible(channel.rig.role)),
                       mend_of(channel, readings, as_written)};
  const double rest = readings.rest();
  if (ended && channel.rig.absolute && channel.rig.auto_zero && std::isfinite(rest) &&
      !within(rest, kAmbientLeast_kpa, kAmbientMost_kpa))
    return Implausible{
        channel.rig.source,
        fmt::format("said to be absolute, it begins at {}, which no ambient pressure is",
                    reads(rest, channel)),
        "give ambient_kpa in the rig where the capture does not begin at rest; else correct its "
        "unit, or take absolute out"};
  return std::nullopt;
}

}  // namespace

bool any(const Distrusted& distrusted) {
  return std::any_of(distrusted.begin(), distrusted.end(), [](bool d) { return d; });
}

std::optional<Implausible> impossible(const RigMatch& match, const ChainDriver& driver,
                                      bool ended) {
  for (std::size_t c = 0; c < match.channels.size(); ++c)
    if (auto found = impossible(match.channels[c], driver.readings(c), match.as_written[c], ended))
      return found;
  return std::nullopt;
}

void Plausibility::take(const Event& event) {
  if (event.kind != Kind::STALL_CUTOFF && event.kind != Kind::MOTOR_STOP) return;
  const Measure* end = find_measure(event, "end_pressure");
  if (!end || event.contact == Contact::NONE) return;
  EndPressure& of = ends_[static_cast<std::size_t>(event.contact)];
  of.least_kpa = of.runs == 0 ? end->value : std::min(of.least_kpa, end->value);
  of.most_kpa = of.runs == 0 ? end->value : std::max(of.most_kpa, end->value);
  ++of.runs;
}

bool Plausibility::both_contacts(bool blow) const {
  const auto one = [&](Contact contact) {
    const EndPressure& of = ends_[static_cast<std::size_t>(contact)];
    return of.runs > 0 && (blow ? of.least_kpa > kClearEnd_kpa : of.most_kpa < -kClearEnd_kpa);
  };
  return one(Contact::A) && one(Contact::B);
}

void Plausibility::doubt(Role role, const std::string& what) {
  doubts_.push_back(what + "; no verdict rests on it");
  distrusted_[static_cast<std::size_t>(role)] = true;
}

void Plausibility::look_at(const ChainChannel& channel, const Readings& readings, bool others_move,
                           bool as_written) {
  const Role role = channel.rig.role;
  const std::string who = fmt::format("'{}' ({})", channel.rig.source, name_of(role));
  const Readings::Beyond& unlikely = readings.unlikely();
  const Believable::Span& likely = believable(role).likely;
  if (const auto cannot = impossible(channel, readings, as_written, true)) {
    doubt(role, fmt::format("{}: {}: {}", who, cannot->what, cannot->mend));
  } else if (readings.lasting(unlikely, true)) {
    doubt(role, fmt::format("{} reads {} at {:.4g} s, beyond what such systems reach ({:.4g}): {}",
                            who, reads(unlikely.worst, channel), unlikely.first_s,
                            unlikely.worst > 0 ? likely.most : likely.least,
                            mend_of(channel, readings, as_written)));
  } else if (unlikely.readings > 0) {
    remarks_.push_back(fmt::format(
        "{}: {} of {} readings are spikes beyond {:.4g}, up to {}, the "
        "first at {:.4g} s",
        who, unlikely.readings, readings.count(), unlikely.worst > 0 ? likely.most : likely.least,
        reads(unlikely.worst, channel), unlikely.first_s));
  }
  if (is_pressure(role) && !channel.rig.absolute &&
      within(readings.rest(), kAirLeast_kpa, kAirMost_kpa) && readings.least() > kVacuumOf_kpa)
    doubt(role, fmt::format("{} begins at {}, as the air itself, and never comes near 0: an "
                            "absolute sensor? put absolute: true in its entry in the rig",
                            who, reads(readings.rest(), channel)));
  // An unused contact is still, and a meter may be too coarse to see a supply or a room's warmth move.
  const bool should_move = is_pressure(role) || role == Role::MOTOR_CURRENT;
  if (should_move && !channel.logic && readings.count() >= kFrozenReadings &&
      readings.least() == readings.most() && (others_move || readings.least() != 0))
    doubt(role, fmt::format("{} is frozen: all {} readings are {} to the last digit, which is no "
                            "measurement",
                            who, readings.count(), reads(readings.least(), channel)));
}

void Plausibility::finish(const RigMatch& match, const ChainDriver& driver) {
  std::size_t moving = 0;
  const auto moves = [&](std::size_t c) {
    return driver.readings(c).least() < driver.readings(c).most();
  };
  for (std::size_t c = 0; c < match.channels.size(); ++c) moving += moves(c) ? 1 : 0;
  for (std::size_t c = 0; c < match.channels.size(); ++c)
    look_at(match.channels[c], driver.readings(c), moving > (moves(c) ? 1U : 0U),
            match.as_written[c]);
  for (const bool blow : {true, false})
    if (both_contacts(blow) && !distrusted_[static_cast<std::size_t>(Role::LINE_PRESSURE)])
      doubt(Role::LINE_PRESSURE,
            fmt::format("the line's pressure {} whichever contact is fed: a sensor that does not "
                        "tell vacuum from pressure?",
                        blow ? "rises" : "falls"));
}

}  // namespace airlatch
