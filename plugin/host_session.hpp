// SPDX-License-Identifier: GPL-3.0-or-later
// host_session.hpp: one decoder of the C interface, in C++: checks what a host hands over, drives
// the chain, and keeps what the host may ask for.
//
// In    the C interface's options and blocks, whole (members an old host does not have are zero).
// Out   serialised events, by callback or by poll; the report's bytes.
// Throws Refused for what a host did wrong, InputError for a rig or plan that cannot be used.
#pragma once
#include <deque>
#include <memory>
#include <string>
#include <vector>

#include "plugin/airlatch.h"
#include "plugin/session/chain_driver.hpp"
#include "plugin/session/event_store.hpp"

namespace airlatch {

struct Refused {
  int status;  // airlatch_status
  const char* why;
};

class HostSession {
 public:
  static constexpr std::size_t kMostEvents = 100'000;  // in a report

  void set_up(const airlatch_options& options, const std::vector<airlatch_channel>& channels);
  void start();  // for a new capture of the same channels
  void push(const airlatch_block& block);
  void flush(std::int64_t until_ns);
  void end_channel(std::uint32_t channel);
  void finish();
  // The oldest event that waits, or null; valid until the next call.
  const std::string* poll();
  const std::string& report();
  [[nodiscard]] bool finished() const { return finished_; }
  [[nodiscard]] std::int64_t dropped() const { return driver_->dropped(); }

 private:
  void read_setup(const airlatch_options& options);
  void take(const Event& event);
  [[nodiscard]] std::string bytes_of(const Event& event) const;

  // As set up.
  RigMatch match_ = {};
  ChainSettings settings_ = {};
  std::vector<std::string> names_ = {};
  airlatch_event_fn on_event_ = nullptr;
  void* context_ = nullptr;
  std::uint64_t event_format_ = AIRLATCH_EVENT_PROTOBUF;

  // Of the present capture.
  std::unique_ptr<ChainDriver> driver_;
  EventStore events_;  // for the report
  bool finished_ = false, too_many_ = false;

  std::deque<std::string> waiting_;  // serialised, for poll
  std::string handed_out_, report_;  // what the host holds a pointer to
  std::vector<float> floats_;        // of a block of doubles
};

}  // namespace airlatch
