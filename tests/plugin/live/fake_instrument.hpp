// SPDX-License-Identifier: GPL-3.0-or-later
// fake_instrument.hpp: an instrument for tests: a child process that does what the test says, while
// it runs, through memory that both share.
#pragma once
#include <sys/mman.h>
#include <unistd.h>

#include <atomic>
#include <csignal>
#include <new>
#include <string>

#include "plugin/live/host_clock.hpp"
#include "plugin/live/instrument_process.hpp"
#include "plugin/live/send_queue.hpp"

namespace airlatch::test {

// Of one instrument, or of several that behave alike.
struct FakeOrders {
  std::atomic<int> starts{0};      // how often it was started
  std::atomic<int> pid{0};         // of its latest process
  std::atomic<int> readings{0};    // so many in all, over all its processes
  std::atomic<int> gone{0};        // the processes up to this one end at once
  std::atomic<bool> hangs{false};  // it does not end when it is asked to
  std::atomic<double> queue_share{0};
  std::atomic<std::int64_t> lost_values{0};
};

class SharedOrders {
 public:
  SharedOrders()
      : at_(new (::mmap(nullptr, sizeof(FakeOrders), PROT_READ | PROT_WRITE,
                        MAP_SHARED | MAP_ANONYMOUS, -1, 0)) FakeOrders) {}
  ~SharedOrders() { ::munmap(at_, sizeof(FakeOrders)); }
  SharedOrders(const SharedOrders&) = delete;
  SharedOrders& operator=(const SharedOrders&) = delete;
  FakeOrders* operator->() const { return at_; }
  FakeOrders& operator*() const { return *at_; }

 private:
  FakeOrders* at_;
};

inline v1::InstrumentMessage hello_of(const std::vector<std::string>& names, double rate_hz) {
  v1::InstrumentMessage hello;
  for (const std::string& name : names) {
    auto& channel = *hello.add_channels();
    channel.set_name(name);
    channel.set_rate_hz(rate_hz);
  }
  return hello;
}

inline void send(SendQueue& queue, const v1::InstrumentMessage& message) {
  queue.add(message);
  if (!queue.flush()) ::_exit(0);
}

inline volatile std::sig_atomic_t fake_asked_to_end = 0;

// A meter whose channels are those that `as=` names.
inline InstrumentChild fake_meter(FakeOrders& orders) {
  return [&orders](const InstrumentSpec& spec, int fd) {
    ::signal(SIGTERM, [](int) { fake_asked_to_end = 1; });
    SendQueue queue(fd);
    const int process = ++orders.starts;
    orders.pid = ::getpid();
    int sent = orders.readings;
    send(queue, hello_of(spec.names, 0));
    for (; orders.gone < process; ::usleep(1000)) {
      const bool reading = orders.readings > sent;
      const bool last = !reading && fake_asked_to_end && !orders.hangs;
      if (!reading && !last) continue;
      v1::InstrumentMessage message;
      message.set_queue_share(static_cast<float>(orders.queue_share));
      message.set_lost_values(orders.lost_values);
      message.set_drift_ppm(last ? 12.3 : 0);
      message.set_drift_u_ppm(last ? 0.4 : 0);
      if (reading) {
        message.mutable_block()->set_channel(spec.names.front());
        message.mutable_block()->add_times_ns(host_now_ns());
        message.mutable_block()->add_values(static_cast<float>(++sent));
      }
      send(queue, message);
      if (last) return;
    }
  };
}

}  // namespace airlatch::test
