// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/context.hpp"

#include <cmath>

namespace airlatch {

Direction DirectionBook::of(Contact contact, double current_sign) const {
  if (contact == Contact::A) return contact_a;
  if (contact == Contact::B) return opposite(contact_a);
  const bool sign_decides =
      positive_current != Direction::UNKNOWN && negative_current == opposite(positive_current);
  if (!sign_decides || current_sign == 0) return Direction::UNKNOWN;
  return current_sign > 0 ? positive_current : negative_current;
}

void DirectionBook::learn(Contact contact, double current_sign, Direction direction) {
  if (direction == Direction::UNKNOWN) return;
  if (contact == Contact::A) contact_a = direction;
  if (contact == Contact::B) contact_a = opposite(direction);
  if (current_sign > 0) positive_current = direction;
  if (current_sign < 0) negative_current = direction;
}

void ClipBook::begin(Role role, double since_s) {
  auto& kept = stretches_[static_cast<std::size_t>(role)];
  if (kept.size() == kKept) kept.erase(kept.begin());
  kept.push_back({since_s, since_s});
}

void ClipBook::last(Role role, double until_s) {
  auto& kept = stretches_[static_cast<std::size_t>(role)];
  if (!kept.empty()) kept.back().until_s = until_s;
}

bool ClipBook::any(Role role, double from_s, double to_s) const {
  for (const Stretch& stretch : stretches_[static_cast<std::size_t>(role)])
    if (stretch.since_s < to_s && stretch.until_s >= from_s) return true;
  return false;
}

bool CaptureContext::has_hole(Role role, double from_s, double to_s) const {
  const Track& here = track(role);
  if (here.empty() || here.slow() || !(here.period_s() > 0)) return false;
  const auto n = static_cast<double>(here.first_at_or_after(to_s) - here.first_at_or_after(from_s));
  return n < (to_s - from_s) / here.period_s() - 2;
}

double CaptureContext::u_instrument(Role role, double value) const {
  const auto r = static_cast<std::size_t>(role);
  const Rig::Channel& entry = channel[r];
  if (role == Role::MOTOR_CURRENT) return combine(0, entry.u_rel * value);
  if (zero_readings[r] == 0) return combine(entry.u_abs, entry.u_rel * value);
  const double u_zero = tracks[r].noise() / std::sqrt(static_cast<double>(zero_readings[r]));
  return combine(entry.u_abs, entry.u_rel * value, u_zero, tracks[r].quantisation_error());
}

bool CaptureContext::at_limit(Role role, double value) const {
  const Rig::Channel& entry = channel[static_cast<std::size_t>(role)];
  const bool both = entry.range_min.has_value() && entry.range_max.has_value();
  const double margin = both ? kLimitMargin * (*entry.range_max - *entry.range_min) : 0;
  return (entry.range_max.has_value() && value >= *entry.range_max - margin) ||
         (entry.range_min.has_value() && value <= *entry.range_min + margin);
}

Role CaptureContext::feed_role(Contact contact) {
  switch (contact) {
    case Contact::A:
      return Role::FEED_A_VOLTAGE;
    case Contact::B:
      return Role::FEED_B_VOLTAGE;
    case Contact::NONE:
      break;
  }
  return Role::COMMAND_LEVEL;
}

Contact CaptureContext::fed_contact(double from_s, double to_s) const {
  Contact best = Contact::NONE;
  double best_v = 0.15 * nominal_v;
  for (const Contact contact : {Contact::A, Contact::B}) {
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

}  // namespace airlatch
