// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/trust.hpp"

#include <algorithm>
#include <array>
#include <initializer_list>
#include <string_view>

namespace airlatch {
namespace {

constexpr std::initializer_list<Role> kNone = {}, kCurrent = {Role::MOTOR_CURRENT},
                                      kPressure = {Role::LINE_PRESSURE},
                                      kBoth = {Role::MOTOR_CURRENT, Role::LINE_PRESSURE},
                                      kFeed = {Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE},
                                      kFed = {Role::MOTOR_CURRENT, Role::FEED_A_VOLTAGE,
                                              Role::FEED_B_VOLTAGE},
                                      kFeedPath = {Role::MOTOR_CURRENT, Role::FEED_A_VOLTAGE,
                                                   Role::FEED_B_VOLTAGE, Role::SUPPLY_VOLTAGE},
                                      kReturnPath = {Role::MOTOR_CURRENT, Role::RETURN_VOLTAGE};

// What an event's being there rests on.
std::initializer_list<Role> roles_of(Kind kind) {
  switch (kind) {
    case Kind::FEED_ON:
    case Kind::FEED_OFF:
      return kFeed;
    case Kind::NO_RESPONSE:
      return kFed;
    case Kind::MOTOR_START:
    case Kind::STALL_CUTOFF:
    case Kind::MOTOR_STOP:
    case Kind::DIRECTION_REVERSAL:
    case Kind::RUN_ON:
    case Kind::RESTART:
    case Kind::DROPOUT:
      return kCurrent;
    case Kind::LOCKED_ROTOR:
      return kBoth;
    case Kind::LEAK_DECAY:
      return kPressure;
    case Kind::GAP:
    case Kind::CLIPPED:
    case Kind::UNSPECIFIED:
      break;
  }
  return kNone;
}

struct Row {
  std::string_view measure;
  std::initializer_list<Role> roles;
};
// Measures that rest on more than their event does.
const std::array kMeasures = {
    Row{"end_pressure", kPressure},
    Row{"pressure", kPressure},
    Row{"rise_rate", kPressure},
    Row{"feed_to_start", kFeed},
    Row{"leak_share", kBoth},
    Row{"branch_share", {Role::LINE_PRESSURE, Role::BRANCH_PRESSURE}},
    Row{"supply_sag", {Role::SUPPLY_VOLTAGE}},
    Row{"supply_level", {Role::SUPPLY_VOLTAGE}},
    Row{"energy", kFeedPath},
    Row{"feed_path_resistance", kFeedPath},
    Row{"return_path_resistance", kReturnPath},
    Row{"motor_resistance", kFeedPath},
};

bool rests_on(std::initializer_list<Role> roles, const Distrusted& distrusted) {
  return std::any_of(roles.begin(), roles.end(),
                     [&](Role role) { return distrusted[static_cast<std::size_t>(role)]; });
}

bool rests_on(std::string_view measure, const Distrusted& distrusted) {
  const auto* const row = std::find_if(kMeasures.begin(), kMeasures.end(),
                                       [&](const Row& r) { return r.measure == measure; });
  return row != kMeasures.end() && rests_on(row->roles, distrusted);
}

}  // namespace

EventStore trusted(const EventStore& events, const Distrusted& distrusted) {
  EventStore out;
  events.for_each([&](const Event& event) {
    if (rests_on(roles_of(event.kind), distrusted)) return;
    Event kept = event;
    kept.measures.clear();
    for (const Measure& measure : event.measures) {
      if (rests_on(measure.name, distrusted))
        add_missing(kept, measure.name.c_str(), MissingCode::IMPLAUSIBLE,
                    "its channel's readings cannot be believed");
      else
        kept.measures.push_back(measure);
    }
    out.add(kept);
  });
  return out;
}

}  // namespace airlatch
