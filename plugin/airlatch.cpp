// The C ABI on the decoders: every function is a guard around a few lines of C++.
#include "plugin/airlatch.h"

#include <google/protobuf/stubs/logging.h>

#include <algorithm>
#include <cstring>
#include <deque>
#include <memory>
#include <new>
#include <string>
#include <vector>

#include "decoders/chain.hpp"
#include "plugin/session/plans.hpp"
#include "plugin/session/rig_match.hpp"
#include "plugin/session/runs.hpp"
#include "plugin/session/setup_file.hpp"
#include "plugin/session/steps.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/verdict/rules.hpp"

namespace {

// One line of text that can be written when there is no memory left.
class ErrorLine {
 public:
  void set(const char* text) noexcept {
    std::strncpy(text_, text, sizeof text_ - 1);
    for (char* c = text_; *c; ++c)
      if (*c == '\n') *c = ' ';
  }
  [[nodiscard]] const char* text() const noexcept { return text_; }

 private:
  char text_[1024] = {};
};

thread_local ErrorLine create_error;

// Times beyond this are refused, so that differences of two of them fit 64 bits.
constexpr std::int64_t kLatest_ns = 4'000'000'000'000'000'000;
constexpr std::size_t kLargestBlock = std::size_t{1} << 31;
constexpr std::int64_t kLargestPeriodPart = 1'000'000'000'000'000;
constexpr std::int64_t kMostPerNanosecond = 1000;  // samples: more is no clock

bool is_utf8(const std::string& text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto c = static_cast<unsigned char>(text[i]);
    const std::size_t n = c < 0x80   ? 1
                          : c < 0xc2 ? 0
                          : c < 0xe0 ? 2
                          : c < 0xf0 ? 3
                          : c < 0xf5 ? 4
                                     : 0;
    if (n == 0 || i + n > text.size()) return false;
    for (std::size_t k = 1; k < n; ++k)
      if ((static_cast<unsigned char>(text[i + k]) & 0xc0) != 0x80) return false;
    i += n;
  }
  return true;
}

struct Refused {  // what the host did wrong
  airlatch_status status;
  const char* why;
};

}  // namespace

struct airlatch_decoder {
  // As created.
  airlatch::RigMatch match;
  airlatch::ChainSettings settings;
  std::vector<std::string> names;
  std::vector<std::size_t> chain_channel;  // of each of the host's; match.channels.size(): no role
  airlatch_event_fn on_event = nullptr;
  void* context = nullptr;

  // Of the present capture.
  struct Lane {  // the clock a channel's last block was on
    airlatch::SampleClock clock = {};
    std::int64_t next = 0;  // index of the value that would follow
    double rate_hz = 0;
    std::int64_t samples = 0;
  };
  std::unique_ptr<airlatch::Chain> chain;
  std::vector<Lane> lanes;
  std::vector<airlatch::v1::Event> events;  // for the report
  std::int64_t first_ns = 0, last_ns = 0;
  bool any = false, finished = false, broken = false, too_many = false;

  std::deque<std::string> waiting;  // serialised, for poll
  std::string handed_out, report;   // what the host holds a pointer to
  std::vector<float> floats;        // of a block of doubles
  bool busy = false;                // inside a call: the callback may not come back
  mutable ErrorLine error;

  static constexpr std::size_t kMostEvents = 100'000;

  void start() {
    chain = std::make_unique<airlatch::Chain>(match.channels, settings);
    chain->on_event.connect([this](const airlatch::v1::Event& event) { take(event); });
    lanes.assign(chain_channel.size(), {});
    events.clear();
    waiting.clear();
    any = finished = broken = too_many = false;
  }

  void take(const airlatch::v1::Event& event) {
    if (events.size() < kMostEvents)
      events.push_back(event);
    else
      too_many = true;
    if (on_event) {
      event.SerializeToString(&handed_out);
      on_event(handed_out.data(), handed_out.size(), context);
    } else {
      waiting.push_back(event.SerializeAsString());
    }
  }

  void push(const airlatch_block& block) {
    using airlatch::SampleBlock;
    if (block.channel >= lanes.size())
      throw Refused{AIRLATCH_BAD_BLOCK, "the block's channel is not among those of the options"};
    if (block.count == 0) return;
    if (block.count > kLargestBlock)
      throw Refused{AIRLATCH_BAD_BLOCK, "a block holds at most 2^31 values"};
    if ((block.floats == nullptr) == (block.doubles == nullptr))
      throw Refused{AIRLATCH_BAD_BLOCK, "a block has floats or doubles, and one of them only"};
    Lane& lane = lanes[block.channel];
    SampleBlock raw{.channel = chain_channel[block.channel]};
    if (block.times_ns) {
      raw.times_ns = {block.times_ns, block.count};
      for (const std::int64_t t : raw.times_ns)
        if (t < -kLatest_ns || t > kLatest_ns)
          throw Refused{AIRLATCH_BAD_BLOCK, "a time is beyond 4e18 ns from its origin"};
    } else {
      clock_of(block, lane, raw);
    }
    if (block.floats) {
      raw.values = {block.floats, block.count};
    } else {
      floats.resize(block.count);
      std::transform(block.doubles, block.doubles + block.count, floats.begin(),
                     [](double v) { return static_cast<float>(v); });
      raw.values = floats;
    }
    const std::int64_t from_ns = raw.time_ns(0), to_ns = raw.time_ns(block.count - 1);
    lane.samples += static_cast<std::int64_t>(block.count);
    if (!block.times_ns) {
      lane.clock = raw.clock;
      lane.next = raw.first + static_cast<std::int64_t>(block.count);
      lane.rate_hz = 1 / raw.clock.period_s();
    }
    if (raw.channel >= match.channels.size()) return;  // it has no role
    first_ns = any ? std::min(first_ns, from_ns) : from_ns;
    last_ns = any ? std::max(last_ns, to_ns) : to_ns;
    any = true;
    chain->push(raw);
  }

  // The block's clock: the last one's where it goes on at the very nanosecond, so that time never
  // drifts and any cut of the samples is the same.
  static void clock_of(const airlatch_block& block, const Lane& lane, airlatch::SampleBlock& raw) {
    if (block.period_num_ns <= 0 || block.period_den <= 0 ||
        block.period_num_ns > kLargestPeriodPart || block.period_den > kLargestPeriodPart)
      throw Refused{AIRLATCH_BAD_BLOCK, "the period must be above 0, its parts at most 1e15"};
    if (block.period_den / kMostPerNanosecond > block.period_num_ns)
      throw Refused{AIRLATCH_BAD_BLOCK, "the period must be at least a picosecond"};
    if (block.start_ns < -kLatest_ns || block.start_ns > kLatest_ns)
      throw Refused{AIRLATCH_BAD_BLOCK, "a time is beyond 4e18 ns from its origin"};
    const double length_ns = static_cast<double>(block.count) *
                             static_cast<double>(block.period_num_ns) /
                             static_cast<double>(block.period_den);
    if (length_ns > 4e18 - static_cast<double>(block.start_ns))
      throw Refused{AIRLATCH_BAD_BLOCK, "the block ends beyond 4e18 ns from its origin"};
    const bool goes_on = lane.next > 0 && lane.clock.num_ns == block.period_num_ns &&
                         lane.clock.den == block.period_den &&
                         lane.clock.time_ns(lane.next) == block.start_ns;
    raw.clock = goes_on
                    ? lane.clock
                    : airlatch::SampleClock{block.start_ns, block.period_num_ns, block.period_den};
    raw.first = goes_on ? lane.next : 0;
  }

  void make_report() {
    using namespace airlatch;
    v1::Report out;
    out.set_software_version(AIRLATCH_VERSION);
    *out.mutable_rig() = settings.rig;
    *out.mutable_plan() = settings.plan;
    auto& capture = *out.add_captures();
    if (any) capture.set_duration_s(static_cast<double>(last_ns - first_ns) * 1e-9);
    for (std::size_t c = 0; c < lanes.size(); ++c) {
      auto& channel = *capture.add_channels();
      channel.set_name(names[c]);
      if (chain_channel[c] < match.channels.size())
        channel.set_role(match.channels[chain_channel[c]].rig.role());
      channel.set_rate_hz(lanes[c].rate_hz);
      channel.set_samples(lanes[c].samples);
    }
    for (const std::string& remark : match.remarks) capture.add_remarks(remark);
    if (too_many) capture.add_remarks("more events than a report holds: it has the first 100000");
    const EventStore by_time(events);
    add_events(out, by_time);
    for (auto& step : judge_steps(settings.plan, by_time.all())) *out.add_steps() = std::move(step);
    EvidenceGatherer evidence;
    evidence.take(by_time);
    add_findings(out, evidence.finish());
    out.SerializeToString(&report);
  }
};

namespace {

// What a call may find the decoder in.
enum Needs { kNothing = 0, kSound = 1, kOpen = 2 };  // not broken; not finished either

template <typename Decoder, typename Work>
airlatch_status guarded(Decoder* decoder, Needs needs, Work&& work) noexcept {
  if (!decoder) return AIRLATCH_MISUSE;
  if (decoder->busy) return AIRLATCH_MISUSE;  // the callback's own call; its error text is kept
  if (needs != kNothing && decoder->broken) {
    decoder->error.set("an earlier call failed half way; reset or destroy the decoder");
    return AIRLATCH_BROKEN;
  }
  if (needs == kOpen && decoder->finished) {
    decoder->error.set("the capture was finished; reset the decoder for the next one");
    return AIRLATCH_MISUSE;
  }
  decoder->error.set("");
  decoder->busy = true;
  airlatch_status status = AIRLATCH_OK;
  try {
    status = work();
  } catch (const Refused& refused) {
    decoder->error.set(refused.why);
    status = refused.status;
  } catch (const std::bad_alloc&) {
    decoder->error.set("not enough memory");
    decoder->broken = true;
    status = AIRLATCH_NO_MEMORY;
  } catch (const std::exception& error) {
    decoder->error.set(error.what());
    decoder->broken = true;
    status = AIRLATCH_BROKEN;
  } catch (...) {
    decoder->error.set("a callback left by an exception");
    decoder->broken = true;
    status = AIRLATCH_BROKEN;
  }
  decoder->busy = false;
  return status;
}

// The host's struct, with the members it does not know as zero; a size that ends inside a member
// leaves that member out.
template <typename Struct>
bool read_struct(const Struct* from, std::size_t least, Struct& to) {
  if (!from || from->struct_size < least) return false;
  to = {};
  const std::size_t whole = from->struct_size / sizeof(void*) * sizeof(void*);
  std::memcpy(&to, from, std::min(whole, sizeof(Struct)));
  return true;
}

airlatch_status refuse_create(airlatch_status status, const char* why) {
  create_error.set(why);
  return status;
}

std::string bytes_of(const void* data, std::size_t size) {
  return data ? std::string(static_cast<const char*>(data), size) : std::string();
}

airlatch_status create(const airlatch_options& options, airlatch_decoder** out) {
  using namespace airlatch;
  const google::protobuf::LogSilencer no_output;  // protobuf writes to stderr of what it refuses
  if (!options.channels || options.channel_count == 0 || options.channel_count > 4096)
    return refuse_create(AIRLATCH_MISUSE, "options.channels must name 1 to 4096 channels");
  if (options.channel_size < sizeof(const char*) || options.channel_size > 4096)
    return refuse_create(AIRLATCH_MISUSE, "options.channel_size must be sizeof(airlatch_channel)");
  if (options.format != AIRLATCH_TEXT && options.format != AIRLATCH_BINARY)
    return refuse_create(AIRLATCH_MISUSE, "options.format is neither text nor binary");
  auto decoder = std::make_unique<airlatch_decoder>();
  const SetupFormat format =
      options.format == AIRLATCH_TEXT ? SetupFormat::kText : SetupFormat::kBinary;
  if (options.rig)
    decoder->settings.rig = parse_rig(bytes_of(options.rig, options.rig_size), format, "rig");
  if (options.plan) {
    const std::string plan = bytes_of(options.plan, options.plan_size);
    const auto& built_in = built_in_plans();
    const bool named = std::any_of(built_in.begin(), built_in.end(),
                                   [&](const BuiltInPlan& p) { return plan == p.name; });
    decoder->settings.plan = named ? find_plan(plan) : parse_plan(plan, format, "plan");
  }
  std::vector<SourceChannel> channels;
  for (std::size_t c = 0; c < options.channel_count; ++c) {
    airlatch_channel channel = {};
    std::memcpy(&channel,
                reinterpret_cast<const char*>(options.channels) + c * options.channel_size,
                std::min(options.channel_size, sizeof channel));
    if (!channel.name) return refuse_create(AIRLATCH_MISUSE, "a channel has no name");
    SourceChannel source;
    source.name = channel.name;
    source.logic = (channel.flags & AIRLATCH_LOGIC) != 0;
    if (!is_utf8(source.name))
      return refuse_create(AIRLATCH_BAD_SETUP, "a channel's name is not UTF-8");
    decoder->names.push_back(source.name);
    channels.push_back(std::move(source));
  }
  decoder->match = match_rig(channels, decoder->settings.rig, "channels");
  decoder->chain_channel.assign(channels.size(), decoder->match.channels.size());
  for (std::size_t c = 0; c < decoder->match.channels.size(); ++c)
    decoder->chain_channel[decoder->match.source_channel[c]] = c;
  decoder->on_event = options.on_event;
  decoder->context = options.context;
  decoder->start();
  *out = decoder.release();
  return AIRLATCH_OK;
}

}  // namespace

extern "C" {

airlatch_status airlatch_get_info(airlatch_info* info) {
  if (!info || info->struct_size < sizeof(std::size_t) + sizeof(std::uint32_t))
    return AIRLATCH_MISUSE;
  airlatch_info full = {info->struct_size, AIRLATCH_ABI,
                        AIRLATCH_CAN_CALL_BACK | AIRLATCH_CAN_REPORT, AIRLATCH_VERSION};
  std::memcpy(info, &full, std::min(info->struct_size, sizeof full));
  return AIRLATCH_OK;
}

airlatch_status airlatch_create(const airlatch_options* options, airlatch_decoder** decoder) {
  create_error.set("");
  if (!decoder) return refuse_create(AIRLATCH_MISUSE, "nowhere to put the decoder");
  *decoder = nullptr;
  airlatch_options all;
  // Version 1 had everything up to channel_count.
  if (!read_struct(options, offsetof(airlatch_options, on_event), all))
    return refuse_create(AIRLATCH_MISUSE, "options are null, or struct_size is not set");
  try {
    return create(all, decoder);
  } catch (const std::bad_alloc&) {
    return refuse_create(AIRLATCH_NO_MEMORY, "not enough memory");
  } catch (const std::exception& error) {
    return refuse_create(AIRLATCH_BAD_SETUP, error.what());
  } catch (...) {
    return refuse_create(AIRLATCH_BAD_SETUP, "internal error");
  }
}

airlatch_status airlatch_push(airlatch_decoder* decoder, const airlatch_block* block) {
  return guarded(decoder, kOpen, [&] {
    airlatch_block all;
    if (!read_struct(block, sizeof(airlatch_block), all))
      throw Refused{AIRLATCH_MISUSE, "the block is null, or struct_size is not set"};
    decoder->push(all);
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_flush(airlatch_decoder* decoder, int64_t until_ns) {
  return guarded(decoder, kOpen, [&] {
    if (until_ns < -kLatest_ns || until_ns > kLatest_ns)
      throw Refused{AIRLATCH_MISUSE, "the time is beyond 4e18 ns from its origin"};
    decoder->chain->advance(until_ns);
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_end_channel(airlatch_decoder* decoder, uint32_t channel) {
  return guarded(decoder, kOpen, [&] {
    if (channel >= decoder->chain_channel.size())
      throw Refused{AIRLATCH_MISUSE, "the channel is not among those of the options"};
    if (decoder->chain_channel[channel] < decoder->match.channels.size())
      decoder->chain->end_channel(decoder->chain_channel[channel]);
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_poll(airlatch_decoder* decoder, const void** event, size_t* size) {
  return guarded(decoder, kNothing, [&] {
    if (!event || !size) throw Refused{AIRLATCH_MISUSE, "nowhere to put the event"};
    *event = nullptr;
    *size = 0;
    if (decoder->waiting.empty()) return AIRLATCH_NO_EVENT;
    decoder->handed_out = std::move(decoder->waiting.front());
    decoder->waiting.pop_front();
    *event = decoder->handed_out.data();
    *size = decoder->handed_out.size();
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_finish(airlatch_decoder* decoder) {
  return guarded(decoder, kOpen, [&] {
    decoder->finished = true;
    decoder->chain->finish();
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_report(airlatch_decoder* decoder, const void** report, size_t* size) {
  return guarded(decoder, kSound, [&] {
    if (!report || !size) throw Refused{AIRLATCH_MISUSE, "nowhere to put the report"};
    *report = nullptr;
    *size = 0;
    if (!decoder->finished) throw Refused{AIRLATCH_MISUSE, "the capture is not finished"};
    decoder->make_report();
    *report = decoder->report.data();
    *size = decoder->report.size();
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_dropped(const airlatch_decoder* decoder, int64_t* samples) {
  if (!decoder || !samples || decoder->busy || !decoder->chain) return AIRLATCH_MISUSE;
  *samples = decoder->chain->dropped();
  return AIRLATCH_OK;
}

airlatch_status airlatch_reset(airlatch_decoder* decoder) {
  return guarded(decoder, kNothing, [&] {
    decoder->start();
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_destroy(airlatch_decoder* decoder) {
  if (!decoder) return AIRLATCH_OK;
  if (decoder->busy) return AIRLATCH_MISUSE;
  delete decoder;
  return AIRLATCH_OK;
}

const char* airlatch_last_error(const airlatch_decoder* decoder) {
  return decoder ? decoder->error.text() : create_error.text();
}

}  // extern "C"
