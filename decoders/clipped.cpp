// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/clipped.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace airlatch {

void Clipped::on_block(const SampleBlock& scaled) {
  const auto role = static_cast<std::size_t>(scaled.role);
  const Rig::Channel& entry = context_.entry(scaled.role);
  constexpr double kNever = std::numeric_limits<double>::infinity();
  double low = entry.range_min.has_value() ? *entry.range_min : -kNever;
  double high = entry.range_max.has_value() ? *entry.range_max : kNever;
  if (entry.range_min.has_value() && entry.range_max.has_value()) {
    const double margin = CaptureContext::kLimitMargin * (high - low);
    low += margin;
    high -= margin;
  }
  Channel& channel = channels_[role];
  if (!channel.clipped) {  // the usual case: nothing in this block is near a limit
    const Extremes& all = context_.track(scaled.role).latest().extremes;
    if (static_cast<double>(all.least) > low && static_cast<double>(all.most) < high) return;
  }
  const double first_s = context_.seconds(scaled.time_ns(0));
  const double period_s = scaled.clock.period_s();
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    const auto v = static_cast<double>(scaled.values[i]);
    if (std::isnan(v)) continue;
    const double t_s = scaled.times_ns.empty() ? first_s + static_cast<double>(i) * period_s
                                               : context_.seconds(scaled.times_ns[i]);
    if (v <= low || v >= high) {
      if (!channel.clipped) {
        channel.since_s = t_s;
        context_.clips.begin(scaled.role, t_s);
      }
      context_.clips.last(scaled.role, t_s);
      channel.clipped = true;
      channel.inside = false;
      channel.until_s = t_s;
    } else if (channel.clipped && !channel.inside) {
      channel.inside = true;
      channel.step_s = t_s - channel.until_s;
      channel.until_s = t_s;
    } else if (channel.clipped && t_s - channel.until_s >= kQuiet_s) {
      announce(scaled.role, channel);
      channel.clipped = false;
    }
  }
}

void Clipped::announce(Role role, const Channel& channel) {
  Event event;
  event.kind = Kind::CLIPPED;
  event.time_s = channel.since_s;
  const double u_s =
      u_of_width(channel.step_s > 0 ? channel.step_s : context_.track(role).period_s());
  event.time_u_s = u_s;
  add_measure(event, "duration", {channel.until_s - channel.since_s, u_s}, "s");
  add_note(event, context_.entry(role).source + " at its range limit");
  emit(event);
}

void Clipped::finish(double /*end_s*/) {
  for (std::size_t role = 0; role < kRoles; ++role)
    if (channels_[role].clipped) announce(static_cast<Role>(role), channels_[role]);
}

}  // namespace airlatch
