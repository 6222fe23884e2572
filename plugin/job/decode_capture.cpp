#include "plugin/session/decode_capture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <limits>
#include <system_error>

#include "plugin/sources/read_ahead.hpp"

namespace airlatch {

CaptureFacts decode_capture(const std::string& file, const OpenOptions& options, const v1::Rig& rig,
                            const v1::Plan& plan,
                            const std::function<void(const v1::Event&)>& on_event,
                            const std::function<void(double)>& on_progress,
                            const CaptureListener& listener) {
  auto source = open_source(file, options);
  const RigMatch match = match_rig(source->channels(), rig, file);
  CaptureFacts facts{
      .file = file, .channels = {}, .duration_s = 0, .remarks = match.remarks, .damage = {}};
  std::vector<std::size_t> chain_channel(source->channels().size(), match.channels.size());
  for (std::size_t c = 0; c < match.channels.size(); ++c) {
    chain_channel[match.source_channel[c]] = c;
    const SourceChannel& channel = source->channels()[match.source_channel[c]];
    const double period_s = channel.clock.period_s();
    facts.channels.push_back(
        {channel.name, match.channels[c].rig.role(), period_s > 0 ? 1 / period_s : 0, 0});
  }
  if (listener.matched) listener.matched(match);
  Chain chain(match.channels, {.rig = rig, .plan = plan});
  chain.on_event.connect(on_event);
  // A pipe may keep its reader waiting for ever; a file does not.
  std::error_code no_matter;
  if (std::filesystem::is_regular_file(file, no_matter))
    source = std::make_unique<ReadAhead>(std::move(source));
  std::int64_t first_ns = std::numeric_limits<std::int64_t>::max();
  std::int64_t last_ns = std::numeric_limits<std::int64_t>::min();
  SampleBlock block;
  std::int64_t blocks = 0;
  while (source->next(block)) {
    const std::size_t c = chain_channel[block.channel];
    if (c == match.channels.size()) continue;
    block.channel = c;
    first_ns = std::min(first_ns, block.time_ns(0));
    last_ns = std::max(last_ns, block.time_ns(block.values.size() - 1));
    facts.channels[c].samples += std::ssize(block.values);
    if (listener.block) listener.block(block);
    chain.push(block);
    if (on_progress && ++blocks % 256 == 0) on_progress(source->progress());
  }
  chain.finish();
  if (last_ns >= first_ns) facts.duration_s = static_cast<double>(last_ns - first_ns) * 1e-9;
  if (chain.dropped() > 0)
    facts.remarks.push_back(fmt::format(
        "{} samples were dropped: their time was not after the one before", chain.dropped()));
  facts.damage = source->damage();
  if (!facts.damage.empty()) {
    v1::Event end;
    end.set_kind(v1::GAP);
    end.set_time_s(facts.duration_s);
    end.set_note("duration: the data end here; " + facts.damage);
    on_event(end);
  }
  return facts;
}

}  // namespace airlatch
