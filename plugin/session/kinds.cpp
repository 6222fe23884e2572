// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/kinds.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "plugin/session/quantity.hpp"

namespace airlatch {
namespace {

std::string quantity(const Event& event, const char* name, const char* missing = "-") {
  const Measure* m = find_measure(event, name);
  return m ? format_quantity(m->value, m->u, m->unit) : missing;
}

// ", contact A", or nothing.
std::string at(const Event& event) {
  const std::string contact = contact_words(event.contact);
  return contact.empty() ? contact : ", " + contact;
}

std::string fed(const Event& event) {
  return event.contact == Contact::NONE ? " (command line)" : at(event);
}

std::string unknown(const Event& event) { return name_of(event.kind); }
std::string feed_on(const Event& event) {
  return fmt::format("feed on{}, {}", fed(event), quantity(event, "level"));
}
std::string feed_off(const Event& event) { return "feed off" + fed(event); }
std::string motor_start(const Event& event) {
  return fmt::format("motor starts, {}{}; inrush {}", direction_words(event.direction), at(event),
                     quantity(event, "inrush_peak", "not seen"));
}
std::string stall_cutoff(const Event& event) {
  return fmt::format("pump cuts off by itself{} after {} at {}", at(event),
                     quantity(event, "run_time"),
                     quantity(event, "end_pressure", "unknown pressure"));
}
std::string motor_stop(const Event& event) {
  return fmt::format("motor stops{}, no cut-off of its own seen, after {}", at(event),
                     quantity(event, "run_time", "unknown time"));
}
std::string direction_reversal(const Event& event) {
  const std::string how = event.direction == Direction::UNKNOWN
                              ? std::string("by the other contact")
                              : std::string("now ") + direction_words(event.direction);
  return fmt::format("direction reversed, {}; rest before it {}", how,
                     quantity(event, "rest_time", "unknown"));
}
std::string leak_decay(const Event& event) {
  return fmt::format("line left alone at {}: loses {}", quantity(event, "start_pressure"),
                     loss_words(event, "kPa/min"));
}
std::string no_response(const Event& event) {
  return fmt::format("no response{}: no motor current within {}", at(event),
                     quantity(event, "waited"));
}
std::string run_on(const Event& event) {
  return fmt::format("motor runs on{} without cutting off, at {}", at(event),
                     quantity(event, "pressure", "unknown pressure"));
}
std::string locked_rotor(const Event& event) {
  return fmt::format("rotor does not turn{}: {}", at(event), quantity(event, "stall_current"));
}
std::string restart(const Event& event) {
  return fmt::format("motor starts again by itself{}, {} after its cut-off", at(event),
                     quantity(event, "hold_time"));
}
std::string dropout(const Event& event) {
  return fmt::format("current drops out{} for {}", at(event), quantity(event, "duration"));
}
std::string gap(const Event& event) {
  return fmt::format("samples missing for {}", quantity(event, "duration", "the rest"));
}
std::string clipped(const Event& event) {
  return fmt::format("sensor at its range limit for {}", quantity(event, "duration"));
}

constexpr const char* kNotTurning =
    "TAKE THE FEED OFF NOW: the motor draws current and does not turn";
constexpr const char* kNotStopping =
    "TAKE THE FEED OFF NOW: the pump runs and does not stop itself";

// THE ROWS, in the order of the enum.  words, mark in plots, alarm, family
constexpr std::array<KindRow, kKinds> kRows = {{
    {Kind::UNSPECIFIED, unknown, nullptr, nullptr, Family::kNone},
    {Kind::FEED_ON, feed_on, nullptr, nullptr, Family::kFeed},
    {Kind::FEED_OFF, feed_off, nullptr, nullptr, Family::kNone},
    {Kind::MOTOR_START, motor_start, "start", nullptr, Family::kStart},
    {Kind::STALL_CUTOFF, stall_cutoff, "cut-off", nullptr, Family::kRun},
    {Kind::MOTOR_STOP, motor_stop, "stop", nullptr, Family::kRun},
    {Kind::DIRECTION_REVERSAL, direction_reversal, nullptr, nullptr, Family::kNone},
    {Kind::LEAK_DECAY, leak_decay, nullptr, nullptr, Family::kRest},
    {Kind::NO_RESPONSE, no_response, "no response", nullptr, Family::kNone},
    {Kind::RUN_ON, run_on, "runs on", kNotStopping, Family::kNone},
    {Kind::LOCKED_ROTOR, locked_rotor, "locked", kNotTurning, Family::kNone},
    {Kind::RESTART, restart, "restart", nullptr, Family::kNone},
    {Kind::DROPOUT, dropout, "dropout", nullptr, Family::kNone},
    {Kind::GAP, gap, "gap", nullptr, Family::kNone},
    {Kind::CLIPPED, clipped, "clipped", nullptr, Family::kNone},
}};

constexpr bool rows_follow_the_enum() {
  for (std::size_t k = 0; k < kKinds; ++k)
    if (static_cast<std::size_t>(kRows[k].kind) != k || kRows[k].words == nullptr) return false;
  return true;
}
static_assert(rows_follow_the_enum(), "each kind of event needs its row, in the enum's order");

}  // namespace

const KindRow& row_of(Kind kind) {
  const auto k = static_cast<std::size_t>(kind);
  return kRows[k < kKinds ? k : 0];
}

const char* family_words(Family family) {
  switch (family) {
    case Family::kNone:
      return "";
    case Family::kFeed:
      return "feed";
    case Family::kStart:
      return "start";
    case Family::kRun:
      return "run";
    case Family::kRest:
      return "line left alone";
  }
  return "";
}

const char* direction_words(Direction direction) {
  switch (direction) {
    case Direction::PRESSURE:
      return "blowing";
    case Direction::VACUUM:
      return "sucking";
    case Direction::UNKNOWN:
      break;
  }
  return "direction not known";
}

const char* contact_words(Contact contact) {
  switch (contact) {
    case Contact::A:
      return "contact A";
    case Contact::B:
      return "contact B";
    case Contact::NONE:
      break;
  }
  return "";
}

std::string remark_words(const Event& event) {
  std::string out;
  for (const Missing& missing : event.missing)
    out += (out.empty() ? "" : "; ") + missing.measure + ": " + missing.text;
  if (!event.note.empty()) out += (out.empty() ? "" : "; ") + event.note;
  return out;
}

std::string loss_words(const Event& decay, const char* unit) {
  const Measure* m = find_measure(decay, "decay_rate");
  if (!m) return "-";
  if (std::abs(m->value) > 2 * m->u) return format_quantity(m->value, m->u, unit);
  return fmt::format("less than {:.2g}{}{} (95 %)", std::abs(m->value) + 1.645 * m->u,
                     *unit ? " " : "", unit);
}

}  // namespace airlatch
