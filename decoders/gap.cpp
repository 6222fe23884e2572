// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/gap.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

void Gap::on_block(const SampleBlock& scaled) {
  Channel& channel = channels_[static_cast<std::size_t>(scaled.role)];
  const bool own_times = !scaled.times_ns.empty();
  const double first_s = context_.seconds(scaled.time_ns(0));
  const double period_s = scaled.clock.period_s();
  if (!own_times && channel.seen && !channel.missing &&
      first_s - channel.next_s <= 0.5 * period_s &&
      context_.track(scaled.role).latest().extremes.all_finite) {
    channel.next_s = first_s + static_cast<double>(scaled.values.size()) * period_s;
    return;
  }
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    const double t_s = own_times ? context_.seconds(scaled.times_ns[i])
                                 : first_s + static_cast<double>(i) * period_s;
    const double step_s = own_times ? channel.spacing_s : period_s;
    const bool paused =
        channel.seen && !channel.missing &&
        (own_times ? channel.spacings >= 3 && t_s - channel.next_s > (kPauseFactor - 1) * step_s
                   : t_s - channel.next_s > 0.5 * step_s);
    if (paused) {
      channel.missing = true;
      channel.since_s = channel.next_s;
    }
    if (std::isnan(scaled.values[i])) {
      if (!channel.missing) channel.since_s = t_s;
      channel.missing = true;
    } else if (channel.missing) {
      close(scaled.role, channel, t_s);
    } else if (own_times && channel.seen) {
      const double last_s = channel.next_s - channel.spacing_s;
      ++channel.spacings;
      channel.spacing_s += (t_s - last_s - channel.spacing_s) /
                           static_cast<double>(std::min<std::int64_t>(channel.spacings, 20));
    }
    channel.seen = true;
    channel.next_s =
        own_times ? t_s + channel.spacing_s : first_s + static_cast<double>(i + 1) * period_s;
  }
}

void Gap::close(Role role, Channel& channel, double until_s) {
  channel.missing = false;
  const CaptureContext& context = context_;
  const std::string& source = context.entry(role).source;
  const double step_s = channel.spacing_s > 0 ? channel.spacing_s : context.track(role).period_s();
  const Closed gap{channel.since_s, until_s - channel.since_s, u_of_width(step_s), source};
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
  for (std::size_t role = 0; role < kRoles; ++role)
    if (channels_[role].missing)
      close(static_cast<Role>(role), channels_[role], std::max(end_s, channels_[role].next_s));
  on_tick(end_s);
}

}  // namespace airlatch
