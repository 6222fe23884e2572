// SPDX-License-Identifier: GPL-3.0-or-later
// chain.hpp: the decoders in their order: raw blocks in, the contract's events out.
//
// In    raw blocks of the channels given at construction, each channel in rising time, any cut.
// Out   events through `on_event`, in the order in which they became decidable.
// How   the slicer cuts the input on a fixed time grid; each slice goes through rig scale and then
//       through every decoder, lowest first. The output is the same bytes however the input was
//       cut.
// Cost  bounded memory: a few seconds of samples a channel, plus a fixed-size trace a run.
//
// One chain decodes one capture. Not thread-safe; different chains may run in different threads.
#pragma once
#include <boost/signals2/signal.hpp>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "decoders/stream/readings.hpp"
#include "decoders/stream/sample_block.hpp"

namespace airlatch {

// A channel as the chain needs it: its rig entry (role, scale, range, uncertainty) and its clock.
struct ChainChannel {
  Rig::Channel rig = {};   // role must be set; channels without a role are not given to a chain
  SampleClock clock = {};  // num_ns == 0: explicit times
  bool logic = false;      // values are 0 and 1
};

class Decoder;
struct CaptureContext;

struct ChainSettings {
  Rig rig = {};    // contact_a_direction, line volume, segments, nominal voltage
  Plan plan = {};  // response_limit_s, run_limit_s
  // Summaries rule nothing out: every decoder looks at every sample. The same events come out,
  // slowly; the tests compare the fast way with it.
  bool look_at_every_sample = false;
  // Decoders from outside this tree: each is created after those of THE LIST and receives the
  // events of all of them.
  std::vector<std::function<std::unique_ptr<Decoder>(CaptureContext&)>> more = {};
};

class Chain {
 public:
  // `channels[i]` describes blocks whose SampleBlock::channel is i. At most one channel a role.
  Chain(const std::vector<ChainChannel>& channels, const ChainSettings& settings);
  ~Chain();
  Chain(const Chain&) = delete;
  Chain& operator=(const Chain&) = delete;

  // Pushes raw samples of one channel. Times must not step back within a channel: a sample that
  // does, or that cannot be counted (SampleBlock::sound), is dropped and counted in `dropped()`.
  void push(const SampleBlock& raw);
  // No more samples of this channel will come; the others need not wait for it. If there were none,
  // its role was not measured.
  void end_channel(std::size_t channel);
  // No sample before `until_ns` will come any more: silent channels do not delay the others.
  void advance(std::int64_t until_ns);
  // The capture has ended: what is still open is decided now. Call once.
  void finish();

  [[nodiscard]] std::int64_t dropped() const;
  // What a channel has read so far, in its role's unit.
  [[nodiscard]] const Readings& readings(std::size_t channel) const;
  boost::signals2::signal<void(const Event&)> on_event;

 private:
  struct Inner;
  std::unique_ptr<Inner> inner_;
};

}  // namespace airlatch
