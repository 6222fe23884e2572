// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/instrument_server.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <csignal>
#include <exception>
#include <optional>

#include "plugin/live/host_clock.hpp"
#include "plugin/live/packet_reader.hpp"
#include "plugin/live/send_queue.hpp"
#include "plugin/live/sigrok_device.hpp"
#include "plugin/system/lazy/sigrok.hpp"

namespace airlatch {
namespace {

volatile std::sig_atomic_t end_asked = 0;

class Server {
 public:
  Server(const InstrumentSpec& spec, int fd) : spec_(spec), queue_(fd) {}

  void run() {
    const SigrokContext context;
    const SigrokDevice device = open_device(context, spec_);
    say(hello(device));
    measure(context, device);
    v1::InstrumentMessage end;
    end.set_complaint("the instrument ended its measurement");
    say(end);
  }

  // Everything reported so far is with the host, however long that takes.
  void say(const v1::InstrumentMessage& message) {
    queue_.add(message);
    if (!queue_.flush()) leave();
  }

 private:
  // The channels, by the names that the user gave them.
  v1::InstrumentMessage hello(const SigrokDevice& device) {
    const std::uint64_t rate_hz = rate_hz_of(device);
    reader_.emplace(
        rate_hz, [this](v1::InstrumentMessage& message) { send(message); }, host_now_ns);
    v1::InstrumentMessage message;
    std::size_t n = 0;
    for (GSList* l = lazy::sr_dev_inst_channels_get(device.device); l; l = l->next) {
      const auto* channel = static_cast<const sr_channel*>(l->data);
      if (!channel->enabled) continue;
      auto& entry = *message.add_channels();
      entry.set_name(n < spec_.names.size() ? spec_.names[n] : std::string(channel->name));
      entry.set_logic(channel->type == SR_CHANNEL_LOGIC);
      entry.set_rate_hz(static_cast<double>(rate_hz));
      reader_->add_channel(channel, entry.name());
      ++n;
    }
    if (spec_.names.size() > n)
      refuse(spec_, fmt::format("it has {} channels, as= names {}", n, spec_.names.size()),
             "name as many as it has");
    return message;
  }

  void measure(const SigrokContext& context, const SigrokDevice& device) {
    sr_session* session = nullptr;
    if (lazy::sr_session_new(context.get(), &session) != SR_OK ||
        lazy::sr_session_dev_add(session, device.device) != SR_OK)
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
  }

  void take(const sr_datafeed_packet& packet) {
    if (ended_) return;
    if (end_asked) {  // what is queued still goes to the host, nothing new does
      v1::InstrumentMessage last;
      add_state(last);
      say(last);
      leave();
    }
    if (packet.type == SR_DF_END) ended_ = true;
    if (packet.type == SR_DF_ANALOG)
      reader_->read(*static_cast<const sr_datafeed_analog*>(packet.payload));
    if (packet.type == SR_DF_LOGIC)
      reader_->read(*static_cast<const sr_datafeed_logic*>(packet.payload));
  }

  // A block for the host, or, where the queue is full, a count of what it does not get: its next
  // block's index shows the gap.
  void send(v1::InstrumentMessage& message) {
    if (queue_.host_gone()) leave();
    if (queue_.full()) {
      lost_values_ += message.block().values_size();
      return;
    }
    add_state(message);
    queue_.add(message);
  }

  void add_state(v1::InstrumentMessage& message) const {
    message.set_queue_share(queue_.share());
    message.set_lost_values(lost_values_);
    const Uncertain drift_ppm = reader_->drift_ppm();
    message.set_drift_ppm(drift_ppm.value);
    message.set_drift_u_ppm(drift_ppm.u);
  }

  // Nothing is left to do, and libsigrok may not allow an orderly end.
  [[noreturn]] static void leave() { ::_exit(0); }

  const InstrumentSpec& spec_;
  SendQueue queue_;
  std::optional<PacketReader> reader_;
  std::int64_t lost_values_ = 0;
  bool ended_ = false;
};

}  // namespace

void serve_instrument(const InstrumentSpec& spec, int fd) {
  ::signal(SIGTERM, [](int) { end_asked = 1; });
  Server server(spec, fd);
  try {
    server.run();
  } catch (const std::exception& error) {
    v1::InstrumentMessage last;
    last.set_complaint(error.what());
    last.set_may_come(dynamic_cast<const InstrumentAbsent*>(&error) != nullptr);
    server.say(last);
  }
}

}  // namespace airlatch
