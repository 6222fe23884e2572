// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/job/contact_samples.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

void ContactSampler::begin(const RigMatch& match) {
  for (const ChainChannel& channel : match.channels) {
    const auto at = std::find(kRolesOfUse.begin(), kRolesOfUse.end(), channel.rig.role);
    if (at == kRolesOfUse.end()) {
      channels_.emplace_back();
      continue;
    }
    const auto use = static_cast<std::size_t>(at - kRolesOfUse.begin());
    channels_.emplace_back(Channel{use, RigScale(channel.rig)});
    if (use < names_.size()) names_[use] = channel.rig.source;
  }
}

void ContactSampler::take(const SampleBlock& raw) {
  if (!t0_ns_) t0_ns_ = raw.time_ns(0);
  if (!channels_[raw.channel]) return;
  const SampleBlock scaled = channels_[raw.channel]->scale.apply(raw, *t0_ns_);
  Trace& trace = traces_[channels_[raw.channel]->use];
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    const auto value = static_cast<double>(scaled.values[i]);
    if (!std::isfinite(value)) continue;
    trace.add({static_cast<double>(scaled.time_ns(i) - *t0_ns_) * 1e-9, value, 1});
  }
}

std::vector<ContactSample> ContactSampler::samples() const {
  constexpr std::size_t kNeeded = 4;
  double end_s = 0;
  for (std::size_t r = 0; r < traces_.size(); ++r) {
    const auto& points = traces_[r].points();
    if (r < kNeeded && points.empty()) return {};
    if (!points.empty()) end_s = std::max(end_s, points.back().time_s);
  }
  // Traces of a long capture have merged their bins: the grid follows them.
  double step_s = kStep_s;
  while (end_s / step_s > static_cast<double>(Trace::kMost)) step_s *= 2;
  std::vector<ContactSample> out;
  std::array<std::size_t, kRolesOfUse.size()> at = {};
  const auto steps = static_cast<std::int64_t>(std::ceil(end_s / step_s));
  for (std::int64_t k = 0; k < steps; ++k) {
    const double until_s = static_cast<double>(k + 1) * step_s;
    std::array<double, kRolesOfUse.size()> value = {};
    for (std::size_t r = 0; r < traces_.size(); ++r) {
      const auto& points = traces_[r].points();
      if (points.empty()) continue;
      while (at[r] + 1 < points.size() && points[at[r] + 1].time_s < until_s) ++at[r];
      value[r] = points[at[r]].value;
    }
    out.push_back({until_s - step_s, {value[0], value[1], value[2]}, value[3], value[4]});
  }
  return out;
}

}  // namespace airlatch
