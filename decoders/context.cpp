#include "decoders/context.hpp"

#include <cmath>

namespace airlatch {

v1::Direction opposite(v1::Direction direction) {
  if (direction == v1::PRESSURE) return v1::VACUUM;
  return direction == v1::VACUUM ? v1::PRESSURE : v1::UNKNOWN;
}

v1::Direction DirectionBook::of(v1::Contact contact, double current_sign) const {
  if (contact == v1::A) return contact_a;
  if (contact == v1::B) return opposite(contact_a);
  const bool sign_tells =
      positive_current != v1::UNKNOWN && negative_current == opposite(positive_current);
  if (!sign_tells || current_sign == 0) return v1::UNKNOWN;
  return current_sign > 0 ? positive_current : negative_current;
}

void DirectionBook::learn(v1::Contact contact, double current_sign, v1::Direction direction) {
  if (direction == v1::UNKNOWN) return;
  if (contact == v1::A) contact_a = direction;
  if (contact == v1::B) contact_a = opposite(direction);
  if (current_sign > 0) positive_current = direction;
  if (current_sign < 0) negative_current = direction;
}

double CaptureContext::u_instrument(v1::Role role, double value) const {
  const v1::Rig::Channel& entry = channel[static_cast<std::size_t>(role)];
  return combine(role == v1::MOTOR_CURRENT ? 0 : entry.u_abs(), entry.u_rel() * value);
}

bool CaptureContext::at_limit(v1::Role role, double value) const {
  const v1::Rig::Channel& entry = channel[static_cast<std::size_t>(role)];
  const bool both = entry.has_range_min() && entry.has_range_max();
  const double margin = both ? kLimitMargin * (entry.range_max() - entry.range_min()) : 0;
  return (entry.has_range_max() && value >= entry.range_max() - margin) ||
         (entry.has_range_min() && value <= entry.range_min() + margin);
}

v1::Role CaptureContext::feed_role(v1::Contact contact) {
  switch (contact) {
    case v1::A:
      return v1::FEED_A_VOLTAGE;
    case v1::B:
      return v1::FEED_B_VOLTAGE;
    default:
      return v1::COMMAND_LEVEL;
  }
}

v1::Contact CaptureContext::fed_contact(double from_s, double to_s) const {
  v1::Contact best = v1::NONE;
  double best_v = 0.15 * nominal_v;
  for (const v1::Contact contact : {v1::A, v1::B}) {
    const Track& feed = track(feed_role(contact));
    if (feed.empty()) continue;
    const auto mean = feed.mean(from_s, to_s);
    const double v = mean ? mean->value : feed.at_time((from_s + to_s) / 2);
    if (v > best_v) {
      best = contact;
      best_v = v;
    }
  }
  return best;
}

void add_measure(v1::Event& event, const char* name, Uncertain value, const char* unit) {
  if (!std::isfinite(value.value) || !std::isfinite(value.u)) {
    add_note(event, std::string(name) + ": these readings give no number for it");
    return;
  }
  v1::Measure& measure = *event.add_measures();
  measure.set_name(name);
  measure.set_value(value.value);
  measure.set_u(value.u);
  measure.set_unit(unit);
}

void add_note(v1::Event& event, const std::string& text) {
  if (!event.note().empty()) event.mutable_note()->append("; ");
  event.mutable_note()->append(text);
}

const v1::Measure* find_measure(const v1::Event& event, std::string_view name) {
  for (const v1::Measure& measure : event.measures())
    if (measure.name() == name) return &measure;
  return nullptr;
}

}  // namespace airlatch
