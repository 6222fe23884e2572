// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/quiet.hpp"

#include <algorithm>

namespace airlatch {
namespace {
// What stands further from its neighbours is no noise: of white noise, hum and flicker together not
// one sample in a million does.
constexpr double kSpread = 30;  // of the standard deviation of neighbours
constexpr std::array kWatched = {Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE,
                                 Role::RETURN_VOLTAGE, Role::MOTOR_CURRENT,  Role::LINE_PRESSURE};
}  // namespace

void Quiet::on_edge(const Edge& lower) {
  switch (lower.what) {
    case Edge::What::kFeedOn:
    case Edge::What::kFeedOff:
      from_s_ = std::max(from_s_, lower.time_s + kAfterFeed_s);
      break;
    case Edge::What::kMotorOn:
      running_ = true;
      break;
    case Edge::What::kMotorOff:
      running_ = false;
      from_s_ = std::max(from_s_, lower.time_s + kAfterMotor_s);
      break;
    case Edge::What::kMotorDips:
    case Edge::What::kMotorBack:
      break;
  }
}

void Quiet::on_tick(double now_s) {
  if (running_) return;
  for (const Role role : kWatched)
    if (!context_.track(role).empty() && context_.noise.wants(role)) look(role, now_s);
}

void Quiet::look(Role role, double now_s) {
  const Track& track = context_.track(role);
  const double guard_s = std::max(kGuard_s, 3 * track.period_s());
  std::int64_t& next = next_[static_cast<std::size_t>(role)];
  const std::int64_t from = std::max({next, track.begin(), track.first_at_or_after(from_s_)});
  const std::int64_t to = track.first_at_or_after(now_s - guard_s);
  if (from >= to) return;
  const Extremes all = extremes_of(track.values(from, to));
  const double spread = static_cast<double>(all.most) - static_cast<double>(all.least);
  const bool quiet = spread <= kSpread * track.noise();
  if (quiet) context_.noise.learn(role, track, from, to, from == next && from > 0);
  next = quiet ? to : to + 1;  // what follows a stretch left out does not join
}

}  // namespace airlatch
