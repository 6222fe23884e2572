// SPDX-License-Identifier: GPL-3.0-or-later
// pipe_target.hpp: lines of samples, parsed and decoded as they come.
#pragma once
#include <string>
#include <string_view>

#include "plugin/message/event_json.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/live_chain.hpp"
#include "plugin/sources/sample_lines.hpp"
#include "tests/fuzz/target.hpp"

namespace airlatch::fuzz {

// `parse`: a line and the unit of its stamps to samples, or LineError.
template <typename Parse>
void decode_lines(std::string_view text, Parse&& parse, TimeUnit unit) {
  constexpr double kPatience_s = 2, kLine_s = 0.05;  // by the host's clock
  may_refuse([&] {
    LiveChain chain(
        Rig(), Plan(), {}, kPatience_s,
        [](const Event& event) {
          static_cast<void>(event_json(event));
          static_cast<void>(remark_words(event));
        },
        [](const std::string&) {});
    double now_s = 1;
    while (!text.empty()) {
      const std::string_view line = text.substr(0, text.find('\n'));
      text.remove_prefix(std::min(line.size() + 1, text.size()));
      now_s += kLine_s;
      try {
        for (const LineSamples& samples : parse(line, unit))
          chain.push(samples.channel, samples.time_ns, samples.clock, samples.values, now_s);
      } catch (const LineError&) {
        chain.idle(now_s);
      }
    }
    chain.finish();
    static_cast<void>(chain.dropped());
  });
}

}  // namespace airlatch::fuzz
