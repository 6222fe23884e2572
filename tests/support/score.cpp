// SPDX-License-Identifier: GPL-3.0-or-later
#include "tests/support/score.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "decoders/chain.hpp"
#include "decoders/context.hpp"

namespace airlatch::test {

std::vector<Event> decode_rehearsal(const Rehearsal& r, std::size_t cut) {
  std::vector<ChainChannel> channels;
  for (const auto& entry : r.rig.channel)
    channels.push_back({.rig = entry, .clock = r.clock, .logic = false});
  Chain chain(channels, {.rig = r.rig, .plan = {}});
  std::vector<Event> events;
  chain.on_event.connect([&](const Event& event) { events.push_back(event); });
  const std::size_t n = r.channels.front().values.size();
  for (std::size_t k = 0; k < n; k += cut)
    for (std::size_t c = 0; c < channels.size(); ++c)
      chain.push({.channel = c,
                  .clock = r.clock,
                  .first = static_cast<std::int64_t>(k),
                  .values = std::span(r.channels[c].values).subspan(k, std::min(cut, n - k))});
  chain.finish();
  return events;
}

// How far from the truth an event may lie to be the one that is meant.
static double reach_s(Kind kind, double period_s, double u_s) {
  if (kind == Kind::LEAK_DECAY) return 10;  // where the window begins is the decoder's to choose
  return std::max({3 * period_s, 4 * u_s, 0.001});
}

void add_score(Score& score, const Rehearsal& r, const std::vector<Event>& events) {
  const double period_s = r.clock.period_s();
  std::vector<bool> used(events.size(), false);
  std::size_t decay = 0;
  for (const Event& truth : r.truth) {
    KindScore& kind = score.kinds[truth.kind];
    std::size_t best = events.size();
    for (std::size_t k = 0; k < events.size(); ++k) {
      if (used[k] || events[k].kind != truth.kind) continue;
      const double off_s = std::abs(events[k].time_s - truth.time_s);
      if (off_s > reach_s(truth.kind, period_s, events[k].time_u_s)) continue;
      if (best == events.size() || off_s < std::abs(events[best].time_s - truth.time_s)) best = k;
    }
    const std::size_t this_decay = truth.kind == Kind::LEAK_DECAY ? decay++ : 0;
    if (best == events.size()) {
      ++kind.missed;
      continue;
    }
    used[best] = true;
    ++kind.found;
    const Event& found = events[best];
    const std::string name = name_of(truth.kind);
    const auto compare = [&](const std::string& what, double value, double u, double right) {
      MeasureScore& m = score.measures[fmt::format("{}.{}", name, what)];
      ++m.total;
      m.covered += std::abs(value - right) <= 2 * u;
      m.error.push_back(value - right);
      m.z.push_back(u > 0 ? (value - right) / u : 0);
      m.relative.push_back(right != 0 ? (value - right) / right : 0);
    };
    if (truth.kind != Kind::LEAK_DECAY) {
      kind.errors_s.push_back(found.time_s - truth.time_s);
      compare("time_s", found.time_s, found.time_u_s, truth.time_s);
    }
    for (const Measure& m : found.measures) {
      if (truth.kind == Kind::LEAK_DECAY) {
        // The truth at the very instant the decoder chose.
        const Rehearsal::Decay& d = r.decays[this_decay];
        const double slope = d.slope_kpa_s(found.time_s);
        if (m.name == "slope") compare(m.name, m.value, m.u, slope);
        if (m.name == "start_pressure") compare(m.name, m.value, m.u, d.gauge_kpa(found.time_s));
        if (m.name == "leak_share" && d.rise_kpa_s > 0)
          compare(m.name, m.value, m.u, std::abs(slope) / d.rise_kpa_s);
        if (m.name == "decay_rate") compare(m.name, m.value, m.u, 60 * std::abs(slope));
        if (m.name == "time_constant" && d.tau_s > 0) compare(m.name, m.value, m.u, d.tau_s);
        if (m.name == "leak_rate")
          compare(m.name, m.value, m.u, r.parameters.volume_m3 * std::abs(slope) * 1000);
        continue;
      }
      for (const Measure& right : truth.measures)
        if (right.name == m.name) compare(m.name, m.value, m.u, right.value);
    }
  }
  for (std::size_t k = 0; k < events.size(); ++k)
    if (!used[k]) ++score.kinds[events[k].kind].invented;
}

}  // namespace airlatch::test
