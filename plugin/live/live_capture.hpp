// SPDX-License-Identifier: GPL-3.0-or-later
// live_capture.hpp: instruments recorded and decoded at once, led by a plan; nothing is shown here.
//
// In    what instruments send (Supervisor).
// Out   the recording; events and remarks, through the listener; the results, from the
//       accessors. A recording that fails is reported, and decoding goes on.
// How   each block is recorded raw before it is decoded (LiveChain), so that a crash loses nothing
//       that was seen; the guide and the fuse watch follow along.
#pragma once
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "decoders/stream/rig_scale.hpp"
#include "plugin/live/fuse_watch.hpp"
#include "plugin/live/guide.hpp"
#include "plugin/live/instrument_server.hpp"
#include "plugin/live/supervisor.hpp"
#include "plugin/recorder/mcap_writer.hpp"
#include "plugin/session/event_store.hpp"
#include "plugin/session/live_chain.hpp"
#include "plugin/session/rig_match.hpp"

namespace airlatch {

struct LiveSettings {
  std::vector<InstrumentSpec> instruments;
  Rig rig;
  Plan plan;
  // The recording to write, "": named by the time at which it begins; none: nothing is recorded.
  std::optional<std::string> record = {};
  std::vector<std::pair<std::string, std::string>> setup = {};  // kept in it: name and text
  double seconds = 0;                                           // 0: until it is stopped
  double fuse_a = 0;                                            // 0: not known
  double wait_s = 0;  // for an instrument that is not there yet
  InstrumentChild child = serve_instrument;
};

struct LiveListener {
  std::function<void(const Event&)> on_event;
  std::function<void(const std::string&)> on_remark;
  std::function<void()> on_round;  // from time to time, also when nothing comes
};

class LiveCapture {
 public:
  static constexpr double kLate_s = 0.5;  // behind the instrument: from here on it is told

  LiveCapture(LiveSettings settings, LiveListener listener);

  // From the instruments' first answer to the end, which `stopped` may ask for; then everything
  // decodable is decoded. Throws InputError.
  void run(const std::function<bool()>& stopped);
  // Ends the recording and remarks on what was lost. False: there is none, or it is not whole.
  bool close_recording();

  [[nodiscard]] Guide& guide() { return guide_; }
  [[nodiscard]] const Guide& guide() const { return guide_; }
  [[nodiscard]] const EventStore& events() const { return events_; }
  [[nodiscard]] double newest_s() const { return newest_s_; }  // of the capture
  [[nodiscard]] double fullest_queue() const { return supervisor_.fullest_queue(); }
  // What did not come: values that a slow computer lost, instruments that are away.
  [[nodiscard]] std::int64_t lost_values() const { return supervisor_.lost_values(); }
  [[nodiscard]] std::vector<std::string> lost_instruments() const { return supervisor_.lost(); }
  // What each role measured last.
  [[nodiscard]] const std::map<Role, double>& figures() const { return figures_; }
  [[nodiscard]] bool recording() const { return writer_ != nullptr; }
  [[nodiscard]] const std::string& path() const { return path_; }  // of the recording
  [[nodiscard]] const std::string& recording_failure() const { return failure_; }  // empty: none

 private:
  void begin();
  void serve(const std::function<bool()>& stopped);
  void begin_recording(const std::vector<RecordedChannel>& channels);
  void take(std::size_t channel, const v1::SampleBlock& in);
  void watch(const SampleBlock& block);
  void watch_lateness(const SampleBlock& block);
  void on_event(const Event& event);
  template <typename Work>
  void record(Work&& work);

  LiveSettings settings_;
  LiveListener listener_;
  Supervisor supervisor_;
  Guide guide_;
  FuseWatch fuse_;
  std::optional<LiveChain> chain_;
  RigMatch match_;
  std::vector<RigScale> scales_;  // one a matched channel
  std::unique_ptr<McapWriter> writer_;
  std::string path_, failure_;
  std::optional<std::int64_t> first_ns_;
  double newest_s_ = 0;
  bool late_ = false;
  std::map<Role, double> figures_;
  EventStore events_;
};

}  // namespace airlatch
