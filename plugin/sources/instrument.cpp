#include "plugin/sources/instrument.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <set>

#include "plugin/sources/clock_follower.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/lazy/glib.hpp"
#include "plugin/system/lazy/sigrok.hpp"

namespace airlatch {
namespace {

std::int64_t now_ns() {
  timespec t{};
  ::clock_gettime(CLOCK_MONOTONIC, &t);
  return static_cast<std::int64_t>(t.tv_sec) * 1'000'000'000 + t.tv_nsec;
}

int silent(void*, int, const char*, va_list) { return 0; }

volatile std::sig_atomic_t end_asked = 0;

constexpr std::uint32_t kKeyMask = 0x1fffffff;  // a key without its get/set/list flags

class Context {
 public:
  Context() {
    lazy::sr_log_callback_set(silent, nullptr);
    if (lazy::sr_init(&context_) != SR_OK)
      throw InputError(ExitStatus::kNoInstrument, "", "", "libsigrok cannot be started",
                       "check its installation");
  }
  ~Context() { lazy::sr_exit(context_); }
  Context(const Context&) = delete;
  Context& operator=(const Context&) = delete;
  [[nodiscard]] sr_context* get() const { return context_; }
  [[nodiscard]] sr_dev_driver* driver(const std::string& name) const {
    for (sr_dev_driver** d = lazy::sr_driver_list(context_); *d; ++d)
      if (name == (*d)->name) return *d;
    return nullptr;
  }

 private:
  sr_context* context_ = nullptr;
};

GVariant* variant_of(const sr_key_info& info, const std::string& value) {
  std::uint64_t size = 0;
  switch (info.datatype) {
    case SR_T_UINT64:
      return lazy::sr_parse_sizestring(value.c_str(), &size) == SR_OK
                 ? lazy::g_variant_new_uint64(size)
                 : nullptr;
    case SR_T_INT32:
      return lazy::g_variant_new_int32(std::atoi(value.c_str()));
    case SR_T_BOOL:
      return lazy::g_variant_new_boolean(value == "true" || value == "1" || value == "on");
    case SR_T_FLOAT:
      return lazy::g_variant_new_double(std::strtod(value.c_str(), nullptr));
    case SR_T_STRING:
      return lazy::g_variant_new_string(value.c_str());
    default:
      return nullptr;
  }
}

const sr_key_info* key_info(const std::string& name) {
  return lazy::sr_key_info_name_get(SR_KEY_CONFIG, name.c_str());
}

std::set<std::uint32_t> keys_of(sr_dev_driver* driver, const sr_dev_inst* device) {
  std::set<std::uint32_t> keys;
  GArray* list = device ? lazy::sr_dev_options(driver, device, nullptr)
                        : lazy::sr_driver_scan_options_list(driver);
  for (guint k = 0; list && k < list->len; ++k)
    keys.insert(g_array_index(list, std::uint32_t, k) & kKeyMask);
  if (list) lazy::g_array_free(list, TRUE);
  return keys;
}

[[noreturn]] void refuse(const InstrumentSpec& spec, const std::string& what,
                         const std::string& mend) {
  throw InputError(ExitStatus::kNoInstrument, spec.text, "", what, mend);
}

// The first device the driver finds, open and set up.
sr_dev_inst* open_device(const Context& context, const InstrumentSpec& spec,
                         sr_dev_driver*& driver) {
  driver = context.driver(spec.driver);
  if (!driver)
    refuse(spec, "libsigrok has no such driver", "airlatch instruments --drivers lists them");
  if (lazy::sr_driver_init(context.get(), driver) != SR_OK)
    refuse(spec, "its driver does not start", "check libsigrok");
  const std::set<std::uint32_t> scan_keys = keys_of(driver, nullptr);
  GSList* options = nullptr;
  std::vector<std::unique_ptr<sr_config>> kept;
  for (const auto& [name, value] : spec.settings) {
    const sr_key_info* info = key_info(name);
    if (!info)
      refuse(spec, fmt::format("'{}' is no setting libsigrok knows", name),
             "conn, serialcomm and samplerate are usual ones");
    if (!scan_keys.contains(info->key)) continue;
    GVariant* variant = variant_of(*info, value);
    if (!variant) refuse(spec, fmt::format("'{}' is no value for {}", value, name), "correct it");
    kept.push_back(
        std::make_unique<sr_config>(sr_config{info->key, lazy::g_variant_ref_sink(variant)}));
    options = lazy::g_slist_append(options, kept.back().get());
  }
  GSList* found = lazy::sr_driver_scan(driver, options);
  lazy::g_slist_free(options);
  for (const auto& config : kept) lazy::g_variant_unref(config->data);
  if (!found)
    refuse(spec, "nothing answers",
           "check the cable, that it is switched on and sending, and that you may open its port "
           "(udev rules of libsigrok, group dialout)");
  auto* device = static_cast<sr_dev_inst*>(found->data);
  lazy::g_slist_free(found);
  if (lazy::sr_dev_open(device) != SR_OK)
    refuse(spec, "it cannot be opened", "check that no other program uses it");
  for (const auto& [name, value] : spec.settings) {
    const sr_key_info* info = key_info(name);
    if (scan_keys.contains(info->key)) continue;
    GVariant* variant = variant_of(*info, value);
    if (!variant || lazy::sr_config_set(device, nullptr, info->key, variant) != SR_OK)
      refuse(spec, fmt::format("it does not take {}={}", name, value),
             "airlatch instruments shows what it has");
  }
  return device;
}

std::uint64_t rate_of(const sr_dev_driver* driver, const sr_dev_inst* device) {
  GVariant* rate = nullptr;
  if (lazy::sr_config_get(driver, device, nullptr, SR_CONF_SAMPLERATE, &rate) != SR_OK) return 0;
  const std::uint64_t hz = lazy::g_variant_get_uint64(rate);
  lazy::g_variant_unref(rate);
  return hz;
}

struct Unit {
  const char* name;
  double factor;
};
// What airlatch measures, in its own units; anything else is left as it is.
Unit unit_of(int unit) {
  switch (unit) {
    case SR_UNIT_VOLT:
      return {"V", 1};
    case SR_UNIT_AMPERE:
      return {"A", 1};
    case SR_UNIT_HECTOPASCAL:
      return {"kPa", 0.1};
    case SR_UNIT_CELSIUS:
      return {"°C", 1};
    default:
      return {"", 1};
  }
}

// The child: one session, until the pipe is closed or it is told to stop.
class Server {
 public:
  Server(const InstrumentSpec& spec, int fd) : spec_(spec), fd_(fd) {}

  void run() {
    Context context;
    sr_dev_driver* driver = nullptr;
    sr_dev_inst* device = open_device(context, spec_, driver);
    rate_hz_ = rate_of(driver, device);
    v1::InstrumentMessage hello;
    std::size_t n = 0;
    for (GSList* l = lazy::sr_dev_inst_channels_get(device); l; l = l->next) {
      const auto* channel = static_cast<const sr_channel*>(l->data);
      if (!channel->enabled) continue;
      auto& told = *hello.add_channels();
      told.set_name(n < spec_.names.size() ? spec_.names[n] : std::string(channel->name));
      told.set_logic(channel->type == SR_CHANNEL_LOGIC);
      told.set_rate_hz(static_cast<double>(rate_hz_));
      lanes_[channel] = {told.name()};
      ++n;
    }
    if (spec_.names.size() > n)
      refuse(spec_, fmt::format("it has {} channels, as= names {}", n, spec_.names.size()),
             "name as many as it has");
    say(hello);
    sr_session* session = nullptr;
    if (lazy::sr_session_new(context.get(), &session) != SR_OK ||
        lazy::sr_session_dev_add(session, device) != SR_OK)
      refuse(spec_, "its session does not start", "try again");
    lazy::sr_session_datafeed_callback_add(
        session,
        [](const sr_dev_inst*, const sr_datafeed_packet* packet, void* data) {
          static_cast<Server*>(data)->take(*packet);
        },
        this);
    if (lazy::sr_session_start(session) != SR_OK)
      refuse(spec_, "it does not start measuring", "check its settings");
    lazy::sr_session_run(session);
    v1::InstrumentMessage end;
    end.set_complaint("the instrument ended its measurement");
    say(end);
  }

  // Everything told so far is with the host, however long that takes.
  void say(const v1::InstrumentMessage& message) {
    queue(message);
    flush();
  }

 private:
  void flush() {
    while (!queue_.empty()) {
      pollfd wait = {fd_, POLLOUT, 0};
      ::poll(&wait, 1, -1);
      hand_over();
    }
  }

  struct Lane {
    std::string name;
    std::int64_t done = 0;
    bool has_zero = false;  // a reading of exactly 0 that is held back
    std::int64_t zero_ns = 0;
  };

  void queue(const v1::InstrumentMessage& message) {
    const std::string bytes = message.SerializeAsString();
    for (std::size_t k = 0; k < 4; ++k) queue_ += static_cast<char>(bytes.size() >> (8 * k) & 0xff);
    queue_ += bytes;
  }

  // As much of the queue as the host takes now: libsigrok must not be held up, or its instrument
  // loses samples that nobody counts.
  void hand_over() {
    std::size_t done = 0;
    while (done < queue_.size()) {
      const ssize_t n = ::write(fd_, queue_.data() + done, queue_.size() - done);
      if (n < 0 && errno == EINTR) continue;
      if (n < 0 && errno == EAGAIN) break;
      // The host has gone: nothing is left to do, and libsigrok may not let us go in order.
      if (n <= 0) ::_exit(0);
      done += static_cast<std::size_t>(n);
    }
    queue_.erase(0, done);
  }

  // A block for the host, or, where the queue is full, a count of what it does not get: its next
  // block's index shows the gap.
  void tell_block(v1::InstrumentMessage& message) {
    hand_over();
    if (queue_.size() > kQueue_bytes) {
      lost_values_ += message.block().values_size();
      return;
    }
    add_state(message);
    queue(message);
    hand_over();
  }

  void add_state(v1::InstrumentMessage& message) const {
    message.set_queue_share(static_cast<float>(queue_.size()) / kQueue_bytes);
    message.set_lost_values(lost_values_);
    if (!clock_) return;
    message.set_drift_ppm(clock_->drift_ppm().value);
    message.set_drift_u_ppm(clock_->drift_ppm().u);
  }

  void take(const sr_datafeed_packet& packet) {
    if (ended_) return;
    if (end_asked) {  // what is queued still goes to the host, nothing new does
      v1::InstrumentMessage last;
      add_state(last);
      say(last);
      ::_exit(0);
    }
    if (packet.type == SR_DF_END) ended_ = true;
    if (packet.type == SR_DF_ANALOG)
      take_analog(*static_cast<const sr_datafeed_analog*>(packet.payload));
    if (packet.type == SR_DF_LOGIC)
      take_logic(*static_cast<const sr_datafeed_logic*>(packet.payload));
  }

  void take_analog(const sr_datafeed_analog& analog) {
    const std::size_t stride = lazy::g_slist_length(analog.meaning->channels);
    const Unit unit = unit_of(static_cast<int>(analog.meaning->unit));
    std::size_t at = 0;
    for (const GSList* l = analog.meaning->channels; l; l = l->next, ++at) {
      const auto lane = lanes_.find(static_cast<const sr_channel*>(l->data));
      if (lane == lanes_.end()) continue;
      std::vector<float> values;
      for (std::size_t i = 0; i < analog.num_samples; ++i)
        values.push_back(static_cast<float>(
            unit.factor * sample(*analog.encoding, analog.data, i * stride + at)));
      send(lane->second, values);
    }
  }

  // Our own conversion: libsigrok's is right for a few encodings only. An encoding that nobody can
  // read gives missing values, never invented ones.
  static double sample(const sr_analog_encoding& e, const void* data, std::size_t index) {
    const bool known =
        e.is_float ? e.unitsize == 4 || e.unitsize == 8 : e.unitsize >= 1 && e.unitsize <= 8;
    if (!known) return std::numeric_limits<double>::quiet_NaN();
    const auto* from = static_cast<const unsigned char*>(data) + index * e.unitsize;
    std::uint64_t bits = 0;
    for (std::size_t k = 0; k < e.unitsize; ++k)
      bits = bits << 8 | from[e.is_bigendian ? k : e.unitsize - 1U - k];
    double value = 0;
    if (e.is_float && e.unitsize == 8) {
      std::memcpy(&value, &bits, 8);
    } else if (e.is_float) {
      const auto word = static_cast<std::uint32_t>(bits);
      float f = 0;
      std::memcpy(&f, &word, 4);
      value = static_cast<double>(f);
    } else if (e.is_signed) {
      const unsigned shift = 64U - 8U * e.unitsize;
      value = static_cast<double>(static_cast<std::int64_t>(bits << shift) >> shift);
    } else {
      value = static_cast<double>(bits);
    }
    const double scale =
        e.scale.q ? static_cast<double>(e.scale.p) / static_cast<double>(e.scale.q) : 1;
    const double offset =
        e.offset.q ? static_cast<double>(e.offset.p) / static_cast<double>(e.offset.q) : 0;
    return value * scale + offset;
  }

  void take_logic(const sr_datafeed_logic& logic) {
    if (logic.unitsize == 0) return;
    const std::size_t count = logic.length / logic.unitsize;
    for (auto& [channel, lane] : lanes_) {
      const auto byte = static_cast<std::size_t>(channel->index) / 8;
      if (channel->type != SR_CHANNEL_LOGIC || byte >= logic.unitsize) continue;
      std::vector<float> values;
      for (std::size_t i = 0; i < count; ++i) {
        const unsigned char bits =
            static_cast<const unsigned char*>(logic.data)[i * logic.unitsize + byte];
        values.push_back(static_cast<float>(bits >> (channel->index % 8) & 1));
      }
      send(lane, values);
    }
  }

  void send(Lane& lane, const std::vector<float>& values) {
    if (values.empty()) return;
    const std::int64_t arrival_ns = now_ns();
    if (rate_hz_ == 0) {
      // A connection that was closed shows as one reading of 0.0: a zero waits for its successor.
      if (lane.has_zero) send_readings(lane, {0.0F}, lane.zero_ns);
      lane.has_zero = values.back() == 0.0F;
      lane.zero_ns = arrival_ns;
      std::vector<float> sure(values.begin(), values.end() - (lane.has_zero ? 1 : 0));
      if (!sure.empty()) send_readings(lane, sure, arrival_ns);
      return;
    }
    const std::int64_t count = lane.done + std::ssize(values);
    if (!clock_) clock_.emplace(static_cast<std::int64_t>(rate_hz_), arrival_ns, count);
    if (&lane == &lanes_.begin()->second) clock_->arrived(arrival_ns, count);
    std::int64_t until = 0;
    for (std::size_t from = 0, to = 0; from < values.size(); from = to) {
      const ClockFollower::Piece piece = clock_->piece_of(lane.done, &until);
      to = static_cast<std::size_t>(std::min<std::int64_t>(
          std::ssize(values), until - lane.done + static_cast<std::int64_t>(from)));
      v1::InstrumentMessage message;
      auto& block = *message.mutable_block();
      block.set_channel(lane.name);
      block.mutable_clock()->set_start_ns(piece.clock.start_ns);
      block.mutable_clock()->set_period_num_ns(piece.clock.num_ns);
      block.mutable_clock()->set_period_den(piece.clock.den);
      block.set_first_index(lane.done - piece.from);
      block.mutable_values()->Add(values.begin() + static_cast<std::ptrdiff_t>(from),
                                  values.begin() + static_cast<std::ptrdiff_t>(to));
      lane.done += static_cast<std::int64_t>(to - from);
      tell_block(message);
    }
  }

  void send_readings(const Lane& lane, const std::vector<float>& values, std::int64_t time_ns) {
    v1::InstrumentMessage message;
    auto& block = *message.mutable_block();
    block.set_channel(lane.name);
    for (std::size_t k = 0; k < values.size(); ++k)  // several of one packet: all arrived now
      block.add_times_ns(time_ns + static_cast<std::int64_t>(k));
    block.mutable_values()->Add(values.begin(), values.end());
    tell_block(message);
  }

  static constexpr std::size_t kQueue_bytes = 16U << 20;

  const InstrumentSpec& spec_;
  int fd_;
  std::uint64_t rate_hz_ = 0;
  std::optional<ClockFollower> clock_;
  std::string queue_;
  std::int64_t lost_values_ = 0;
  std::map<const sr_channel*, Lane> lanes_;
  bool ended_ = false;
};

}  // namespace

InstrumentSpec parse_instrument(const std::string& text) {
  InstrumentSpec spec;
  spec.text = text;
  std::size_t from = 0;
  for (bool first = true; from <= text.size(); first = false) {
    std::size_t to = text.find(':', from);
    if (to == std::string::npos) to = text.size();
    const std::string part = text.substr(from, to - from);
    from = to + 1;
    if (first) {
      spec.driver = part;
      continue;
    }
    const std::size_t equals = part.find('=');
    if (equals == std::string::npos || equals == 0)
      throw InputError(ExitStatus::kUsage, text, "", fmt::format("'{}' is no key=value", part),
                       "write driver:key=value:key=value");
    const std::string key = part.substr(0, equals), value = part.substr(equals + 1);
    if (key != "as") {
      spec.settings.emplace_back(key, value);
      continue;
    }
    std::size_t at = 0;
    while (at <= value.size()) {
      const std::size_t end = std::min(value.find(',', at), value.size());
      spec.names.push_back(value.substr(at, end - at));
      at = end + 1;
    }
  }
  if (spec.driver.empty())
    throw InputError(ExitStatus::kUsage, text, "", "no driver is named",
                     "write driver:key=value; airlatch instruments shows what there is");
  return spec;
}

std::vector<FoundInstrument> find_instruments(const std::string& text) {
  const Context context;
  std::vector<FoundInstrument> out;
  const auto add = [&](sr_dev_driver* driver, sr_dev_inst* device) {
    FoundInstrument found;
    found.driver = driver->name;
    for (const char* words :
         {lazy::sr_dev_inst_vendor_get(device), lazy::sr_dev_inst_model_get(device),
          lazy::sr_dev_inst_connid_get(device)})
      if (words && *words) found.about += (found.about.empty() ? "" : " ") + std::string(words);
    for (GSList* l = lazy::sr_dev_inst_channels_get(device); l; l = l->next)
      found.channels.emplace_back(static_cast<const sr_channel*>(l->data)->name);
    const std::uint64_t hz = rate_of(driver, device);
    found.rates = hz ? fmt::format("{} samples/s unless samplerate= says otherwise", hz)
                     : "readings as they come";
    out.push_back(std::move(found));
  };
  if (!text.empty()) {
    sr_dev_driver* driver = nullptr;
    add(driver, open_device(context, parse_instrument(text), driver));
    return out;
  }
  for (sr_dev_driver** d = lazy::sr_driver_list(context.get()); *d; ++d) {
    if (lazy::sr_driver_init(context.get(), *d) != SR_OK) continue;
    GSList* found = lazy::sr_driver_scan(*d, nullptr);
    for (GSList* l = found; l; l = l->next) add(*d, static_cast<sr_dev_inst*>(l->data));
    lazy::g_slist_free(found);
  }
  return out;
}

std::vector<std::string> list_drivers() {
  const Context context;
  std::vector<std::string> out;
  for (sr_dev_driver** d = lazy::sr_driver_list(context.get()); *d; ++d)
    out.push_back(fmt::format("{}: {}", (*d)->name, (*d)->longname));
  std::sort(out.begin(), out.end());
  return out;
}

InstrumentProcess::InstrumentProcess(const InstrumentSpec& spec) {
  std::array<int, 2> ends{};
  if (::pipe2(ends.data(), O_CLOEXEC) != 0)
    throw InputError(ExitStatus::kNoInstrument, spec.text, "", std::strerror(errno), "try again");
  std::fflush(nullptr);
  child_ = ::fork();
  if (child_ == 0) {
    ::close(ends[0]);
    ::fcntl(ends[1], F_SETFL, ::fcntl(ends[1], F_GETFL) | O_NONBLOCK);
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
    ::signal(SIGINT, SIG_IGN);  // the terminal's Ctrl-C is the parent's to handle
    ::signal(SIGTERM, [](int) { end_asked = 1; });
    ::signal(SIGPIPE, SIG_IGN);
    Server server(spec, ends[1]);
    try {
      server.run();
    } catch (const std::exception& error) {
      v1::InstrumentMessage last;
      last.set_complaint(error.what());
      server.say(last);
    }
    ::_exit(0);
  }
  ::close(ends[1]);
  fd_ = ends[0];
  ::fcntl(fd_, F_SETFL, ::fcntl(fd_, F_GETFL) | O_NONBLOCK);
}

InstrumentProcess::~InstrumentProcess() {
  kill();
  if (fd_ >= 0) ::close(fd_);
}

void InstrumentProcess::ask_to_end() const {
  if (child_ > 0) ::kill(child_, SIGTERM);
}

void InstrumentProcess::kill() {
  if (child_ <= 0) return;
  ::kill(child_, SIGKILL);
  ::waitpid(child_, nullptr, 0);
  child_ = -1;
}

bool InstrumentProcess::read(std::vector<v1::InstrumentMessage>& messages) {
  bool open = true;
  std::array<char, 65536> chunk{};
  while (true) {
    const ssize_t n = ::read(fd_, chunk.data(), chunk.size());
    if (n > 0) {
      buffer_.append(chunk.data(), static_cast<std::size_t>(n));
      continue;
    }
    if (n < 0 && errno == EINTR) continue;
    open = n < 0 && errno == EAGAIN;
    break;
  }
  std::size_t at = 0;
  while (buffer_.size() - at >= 4) {
    std::uint32_t length = 0;
    for (std::size_t k = 0; k < 4; ++k)
      length |= static_cast<std::uint32_t>(static_cast<unsigned char>(buffer_[at + k])) << (8 * k);
    if (buffer_.size() - at - 4 < length) break;
    v1::InstrumentMessage message;
    if (message.ParseFromArray(buffer_.data() + at + 4, static_cast<int>(length)))
      messages.push_back(std::move(message));
    at += 4U + length;
  }
  buffer_.erase(0, at);
  return open;
}

}  // namespace airlatch
