// SPDX-License-Identifier: GPL-3.0-or-later
// event.hpp: what the decoders report: events, the measures they carry, and what is missing.
//
// Plain structs of the messages in proto/airlatch/v1/event.proto, field for field: the decoders, the
// verdict and the C interface speak these; plugin/message turns them into bytes, text and JSON.
// Every measure has its standard uncertainty (JCGM 100, k = 1). Pressure is gauge pressure: ambient
// is 0, vacuum is negative. Enumerators are the contract's.
#pragma once
#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "decoders/method/uncertainty.hpp"

namespace airlatch {

// The names of an enum's values, from 0 on: `EnumNames<Kind>::kAll[1]` is "FEED_ON".
template <typename Enum>
struct EnumNames;

// "FEED_ON"; the number of a value this version does not know.
template <typename Enum>
[[nodiscard]] std::string name_of(Enum value) {
  const auto index = static_cast<int>(value);
  const auto& all = EnumNames<Enum>::kAll;
  return index >= 0 && index < static_cast<int>(all.size())
             ? std::string(all[static_cast<std::size_t>(index)])
             : std::to_string(index);
}

// The way the pump moves the air. Learnt from the pressure, a rig, or the contact and current sign.
enum class Direction : int {
  UNKNOWN,
  PRESSURE,  // the pump blows
  VACUUM,    // the pump sucks
};
template <>
struct EnumNames<Direction> {
  static constexpr std::array<std::string_view, 3> kAll = {"UNKNOWN", "PRESSURE", "VACUUM"};
};
Direction opposite(Direction direction);

// Which of the pump's two drive contacts is fed.
enum class Contact : int { NONE, A, B };
template <>
struct EnumNames<Contact> {
  static constexpr std::array<std::string_view, 3> kAll = {"NONE", "A", "B"};
};

enum class Kind : int {
  UNSPECIFIED,
  FEED_ON,
  FEED_OFF,
  MOTOR_START,
  STALL_CUTOFF,
  MOTOR_STOP,
  DIRECTION_REVERSAL,
  LEAK_DECAY,
  NO_RESPONSE,
  RUN_ON,
  LOCKED_ROTOR,
  RESTART,
  DROPOUT,
  GAP,
  CLIPPED,
};
template <>
struct EnumNames<Kind> {
  static constexpr auto kAll = std::to_array<std::string_view>({
      "KIND_UNSPECIFIED",
      "FEED_ON",
      "FEED_OFF",
      "MOTOR_START",
      "STALL_CUTOFF",
      "MOTOR_STOP",
      "DIRECTION_REVERSAL",
      "LEAK_DECAY",
      "NO_RESPONSE",
      "RUN_ON",
      "LOCKED_ROTOR",
      "RESTART",
      "DROPOUT",
      "GAP",
      "CLIPPED",
  });
};
constexpr std::size_t kKinds = EnumNames<Kind>::kAll.size();

// One measured quantity.
struct Measure {
  std::string name = {};  // as in the contract, for example "inrush_peak"
  double value = 0;       // in `unit`
  double u = 0;           // standard uncertainty, same unit, k = 1
  std::string unit = {};  // "A", "V", "kPa", "kPa/s", "kPa/min", "s", "J", "Ω", "rev/min", ...
  friend bool operator==(const Measure&, const Measure&) = default;
};

// Why a measure could not be determined.
enum class MissingCode : int {
  UNSPECIFIED,
  NO_CHANNEL,          // no channel shows it
  TOO_SLOW,            // too few readings a second
  CUT_SHORT,           // the capture, the run or the rest is too short, or began before it
  OUT_OF_RANGE,        // a sensor stood at its range limit
  NOT_SETTLED,         // what it rests on had not come to rest
  DISTURBED,           // something else moved in its window
  NOT_TOLD_FROM_ZERO,  // lost in the noise
  NO_VOLUME,           // the rig gives no line volume
  IMPLAUSIBLE,         // the readings give no believable number
};
template <>
struct EnumNames<MissingCode> {
  static constexpr std::array<std::string_view, 10> kAll = {
      "MISSING_UNSPECIFIED", "NO_CHANNEL", "TOO_SLOW",           "CUT_SHORT", "OUT_OF_RANGE",
      "NOT_SETTLED",         "DISTURBED",  "NOT_TOLD_FROM_ZERO", "NO_VOLUME", "IMPLAUSIBLE"};
};

struct Missing {
  std::string measure = {};
  MissingCode code = MissingCode::UNSPECIFIED;  // for programs
  std::string text = {};                        // for people
  friend bool operator==(const Missing&, const Missing&) = default;
};

struct Event {
  Kind kind = Kind::UNSPECIFIED;
  double time_s = 0;    // from the capture's first sample
  double time_u_s = 0;  // standard uncertainty of time_s
  Direction direction = Direction::UNKNOWN;
  Contact contact = Contact::NONE;
  std::vector<Measure> measures = {};  // those that could be determined
  std::string note = {};               // for people; no program reads it
  std::vector<Missing> missing = {};   // those that could not, and why
  friend bool operator==(const Event&, const Event&) = default;
};

// Adds a measure with its unit to an event; a value that is no number becomes missing instead.
void add_measure(Event& event, const char* name, Uncertain value, const char* unit);
void add_missing(Event& event, const char* measure, MissingCode code, std::string text);
// Parts of a note are joined by "; ".
void add_note(Event& event, const std::string& text);
// The event's measure of that name, or nothing; likewise what is said of it where it is missing.
const Measure* find_measure(const Event& event, std::string_view name);
const Missing* find_missing(const Event& event, std::string_view measure);

}  // namespace airlatch
