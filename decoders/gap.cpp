// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/gap.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

void Gap::on_block(const SampleBlock& scaled) {
  Channel& channel = channels_[static_cast<std::size_t>(scaled.role)];
  channel.own_times = !scaled.times_ns.empty();
  const double first_s = context_.seconds(scaled.time_ns(0));
  const double period_s = channel.own_times ? 0 : scaled.clock.period_s();
  const bool whole = !channel.own_times && channel.seen && channel.intervals >= kFewest &&
                     first_s - channel.last_s <= 1.5 * channel.period_s &&
                     period_s == channel.period_s &&
                     context_.track(scaled.role).latest().extremes.all_finite;
  if (whole) {
    channel.last_s = first_s + static_cast<double>(scaled.values.size() - 1) * period_s;
    return;
  }
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    const double t_s = channel.own_times ? context_.seconds(scaled.times_ns[i])
                                         : first_s + static_cast<double>(i) * period_s;
    if (!std::isnan(scaled.values[i])) {
      reading(scaled.role, channel, t_s);
    } else {
      channel.empty_s = t_s;
      if (!channel.seen && !channel.leading_s) channel.leading_s = t_s;
    }
    channel.period_s = period_s;
  }
}

void Gap::reading(Role role, Channel& channel, double t_s) {
  if (!channel.seen) {
    if (channel.leading_s) channel.early.push_back({*channel.leading_s, t_s, true});
  } else {
    const Pause pause{channel.last_s, t_s};
    if (channel.intervals < kFewest) {
      if (channel.early.size() <= kFewest) channel.early.push_back(pause);
    } else {
      judge(role, channel, pause);
    }
    // A pause is not the usual interval: it counts as twice that at most.
    const double long_s = t_s - channel.last_s;
    const double counts_s = channel.intervals > 0 ? std::min(long_s, 2 * channel.usual_s) : long_s;
    ++channel.intervals;
    channel.usual_s += (counts_s - channel.usual_s) /
                       static_cast<double>(std::min<std::int64_t>(channel.intervals, 20));
    if (channel.intervals == kFewest) {
      for (const Pause& early : channel.early) judge(role, channel, early);
      channel.early.clear();
    }
  }
  channel.seen = true;
  channel.last_s = t_s;
}

void Gap::judge(Role role, const Channel& channel, const Pause& pause) {
  // One empty row between two readings is not yet another channel's rhythm: two of three are.
  const bool dense = !channel.own_times && channel.usual_s < 2 * channel.period_s;
  const double step_s = dense ? channel.period_s : channel.usual_s;
  const double long_s = pause.until_s - pause.since_s;
  if (dense ? long_s <= (pause.leads ? 0.5 : 1.5) * step_s : long_s <= kPauseFactor * step_s)
    return;
  const double since_s = pause.leads ? pause.since_s : pause.since_s + step_s;
  const std::string& source = context_.entry(role).source;
  const Closed gap{since_s, pause.until_s - since_s, u_of_width(step_s), source};
  const auto [same, is_new] = places_.try_emplace({gap.since_s, gap.duration_s}, closed_.size());
  if (is_new)
    closed_.push_back(gap);
  else
    closed_[same->second].channels += ", " + source;
}

void Gap::on_tick(double /*now_s*/) {
  for (const Closed& gap : closed_) {
    Event event;
    event.kind = Kind::GAP;
    event.time_s = gap.since_s;
    event.time_u_s = gap.u_s;
    add_measure(event, "duration", {gap.duration_s, gap.u_s}, "s");
    add_note(event, "no samples of " + gap.channels);
    emit(event);
  }
  closed_.clear();
  places_.clear();
}

void Gap::finish(double end_s) {
  for (std::size_t k = 0; k < kRoles; ++k) {
    const auto role = static_cast<Role>(k);
    Channel& channel = channels_[k];
    for (const Pause& early : channel.early) judge(role, channel, early);
    const double until_s = std::max(end_s, channel.empty_s + channel.period_s);
    if (!channel.seen) {
      if (channel.leading_s && !channel.own_times)
        judge(role, channel, {*channel.leading_s, until_s, true});
    } else if (channel.own_times ? channel.intervals >= kFewest
                                 : channel.empty_s > channel.last_s) {
      judge(role, channel, {channel.last_s, until_s});
    }
  }
  on_tick(end_s);
}

}  // namespace airlatch
