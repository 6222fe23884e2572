// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host_session.hpp"

#include <algorithm>

#include "plugin/job/judge_events.hpp"
#include "plugin/message/event_json.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/system/utf8.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLargestBlock = std::size_t{1} << 31;
constexpr std::int64_t kLargestPeriodPart = 1'000'000'000'000'000;

std::string text_of(const void* data, std::size_t size) {
  return data ? std::string(static_cast<const char*>(data), size) : std::string();
}

bool too_far(std::int64_t time_ns) { return !countable(time_ns); }

SampleClock clock_of(const airlatch_block& block) {
  if (block.period_num_ns <= 0 || block.period_den <= 0 ||
      block.period_num_ns > kLargestPeriodPart || block.period_den > kLargestPeriodPart)
    throw Refused{AIRLATCH_BAD_BLOCK, "the period must be above 0, its parts at most 1e15"};
  if (too_far(block.start_ns))
    throw Refused{AIRLATCH_BAD_BLOCK, "a time is beyond 4e18 ns from its origin"};
  const SampleClock clock{block.start_ns, block.period_num_ns, block.period_den};
  if (!clock.sound()) throw Refused{AIRLATCH_BAD_BLOCK, "the period must be at least a picosecond"};
  if (too_far(clock.time_ns(static_cast<std::int64_t>(block.count))))
    throw Refused{AIRLATCH_BAD_BLOCK, "the block ends beyond 4e18 ns from its origin"};
  return clock;
}

std::span<const std::int64_t> times_of(const airlatch_block& block) {
  const std::span<const std::int64_t> times_ns(block.times_ns, block.count);
  if (std::any_of(times_ns.begin(), times_ns.end(), too_far))
    throw Refused{AIRLATCH_BAD_BLOCK, "a time is beyond 4e18 ns from its origin"};
  return times_ns;
}

}  // namespace

void HostSession::read_setup(const airlatch_options& options) {
  if (options.format != AIRLATCH_TEXT && options.format != AIRLATCH_BINARY)
    throw Refused{AIRLATCH_MISUSE, "options.format is neither text nor binary"};
  if (options.event_format != AIRLATCH_EVENT_PROTOBUF &&
      options.event_format != AIRLATCH_EVENT_JSON)
    throw Refused{AIRLATCH_MISUSE, "options.event_format is neither protobuf nor JSON"};
  const SetupFormat format =
      options.format == AIRLATCH_TEXT ? SetupFormat::kText : SetupFormat::kBinary;
  if (options.rig) settings_.rig = parse_rig(text_of(options.rig, options.rig_size), format, "rig");
  if (!options.plan) return;
  const std::string plan = text_of(options.plan, options.plan_size);
  const auto& built_in = built_in_plans();
  const bool named = std::any_of(built_in.begin(), built_in.end(),
                                 [&](const BuiltInPlan& p) { return plan == p.name; });
  settings_.plan = named ? find_plan(plan) : parse_plan(plan, format, "plan");
}

void HostSession::set_up(const airlatch_options& options,
                         const std::vector<airlatch_channel>& channels) {
  read_setup(options);
  std::vector<SourceChannel> sources;
  for (const airlatch_channel& channel : channels) {
    SourceChannel source;
    source.name = channel.name;
    source.logic = (channel.flags & AIRLATCH_LOGIC) != 0;
    if (!is_utf8(source.name)) throw Refused{AIRLATCH_BAD_SETUP, "a channel's name is not UTF-8"};
    names_.push_back(source.name);
    sources.push_back(std::move(source));
  }
  match_ = match_rig(sources, settings_.rig, "channels");
  on_event_ = options.on_event;
  context_ = options.context;
  event_format_ = options.event_format;
  start();
}

void HostSession::start() {
  driver_ = std::make_unique<ChainDriver>(match_, names_.size(), settings_,
                                          [this](const Event& event) { take(event); });
  events_ = EventStore();
  waiting_.clear();
  finished_ = too_many_ = false;
}

std::string HostSession::bytes_of(const Event& event) const {
  return event_format_ == AIRLATCH_EVENT_JSON ? event_json(event) : to_wire(event);
}

void HostSession::take(const Event& event) {
  if (events_.size() < kMostEvents)
    events_.add(event);
  else
    too_many_ = true;
  if (on_event_) {
    handed_out_ = bytes_of(event);
    on_event_(handed_out_.data(), handed_out_.size(), context_);
  } else {
    waiting_.push_back(bytes_of(event));
  }
}

void HostSession::push(const airlatch_block& block) {
  if (block.channel >= names_.size())
    throw Refused{AIRLATCH_BAD_BLOCK, "the block's channel is not among those of the options"};
  if (block.count == 0) return;
  if (block.count > kLargestBlock)
    throw Refused{AIRLATCH_BAD_BLOCK, "a block holds at most 2^31 values"};
  if ((block.floats == nullptr) == (block.doubles == nullptr))
    throw Refused{AIRLATCH_BAD_BLOCK, "a block has floats or doubles, and one of them only"};
  SampleBlock raw{.channel = block.channel};
  if (block.times_ns)
    raw.times_ns = times_of(block);
  else
    raw.clock = clock_of(block);
  if (block.floats) {
    raw.values = {block.floats, block.count};
  } else {
    floats_.resize(block.count);
    std::transform(block.doubles, block.doubles + block.count, floats_.begin(),
                   [](double v) { return static_cast<float>(v); });
    raw.values = floats_;
  }
  driver_->push(raw);
}

void HostSession::flush(std::int64_t until_ns) {
  if (too_far(until_ns))
    throw Refused{AIRLATCH_MISUSE, "the time is beyond 4e18 ns from its origin"};
  driver_->advance(until_ns);
}

void HostSession::end_channel(std::uint32_t channel) {
  if (channel >= names_.size())
    throw Refused{AIRLATCH_MISUSE, "the channel is not among those of the options"};
  driver_->end_channel(channel);
}

void HostSession::finish() {
  finished_ = true;
  driver_->finish();
}

const std::string* HostSession::poll() {
  if (waiting_.empty()) return nullptr;
  handed_out_ = std::move(waiting_.front());
  waiting_.pop_front();
  return &handed_out_;
}

const std::string& HostSession::report() {
  Report out;
  out.software_version = AIRLATCH_VERSION;
  out.rig = settings_.rig;
  out.plan = settings_.plan;
  Report::Capture capture;
  capture.duration_s = driver_->duration_s();
  for (std::size_t c = 0; c < names_.size(); ++c) {
    const auto place = driver_->place(c);
    const ChainDriver::Channel& about = driver_->channel(c);
    capture.channels.push_back({names_[c],
                                place ? match_.channels[*place].rig.role : Role::UNSPECIFIED,
                                about.rate_hz, about.samples});
  }
  capture.remarks = match_.remarks;
  if (too_many_)
    capture.remarks.emplace_back("more events than a report holds: it has the first 100000");
  out.captures.push_back(std::move(capture));
  Plausibility plausibility;
  events_.for_each([&](const Event& event) { plausibility.take(event); });
  plausibility.finish(match_, *driver_);
  auto& remarks = out.captures[0].remarks;
  remarks.insert(remarks.begin(), plausibility.doubts().begin(), plausibility.doubts().end());
  remarks.insert(remarks.end(), plausibility.remarks().begin(), plausibility.remarks().end());
  judge_events(out, events_, settings_.plan, plausibility.distrusted());
  report_ = to_wire(out);
  return report_;
}

}  // namespace airlatch
