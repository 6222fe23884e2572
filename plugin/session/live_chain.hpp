// SPDX-License-Identifier: GPL-3.0-or-later
// live_chain.hpp: a chain for samples whose channels become known only as the samples come.
//
// In    samples by channel name, upper and lower case the same, in rising time within each channel.
// Out   events, through `on_event`.
// How   the first kSettle_s of samples are kept; the channels seen in them are matched with the rig
//       and decoding begins. Named beforehand, the channels need no waiting. A channel that has
//       sent nothing for `patience_s` by the host's clock no longer delays the others. Readings that
//       cannot be believed are told as soon as they are seen, the rest of them at the end.
// Cost  of a stretch: one look-up, however many channels there are.
#pragma once
#include <functional>
#include <memory>
#include <string>
#include <unordered_map>
#include <vector>

#include "plugin/session/chain_driver.hpp"
#include "plugin/session/plausibility.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

class LiveChain {
 public:
  static constexpr double kSettle_s = 2;                   // of samples, and
  static constexpr double kWallSettle_s = 0.5;             // of the host's clock, or
  static constexpr std::size_t kMostKept = 1 << 22;        // values, or
  static constexpr std::size_t kMostStretches = 1 << 20;   // of them, or
  static constexpr std::size_t kMostChannels = 1'000'000;  // names, of which late ones are told

  // `channels`: names known beforehand; empty: learnt. `units`: of those, where they are known.
  LiveChain(const Rig& rig, const Plan& plan, const std::vector<std::string>& channels,
            double patience_s, std::function<void(const Event&)> on_event,
            std::function<void(const std::string&)> on_remark,
            std::vector<std::string> units = {});
  // A stretch on `clock`, or at `time_ns` where the clock has no period; `now_s`: the host's clock,
  // from any origin. Throws InputError where the channels, once known, cannot be used.
  void push(const std::string& channel, std::int64_t time_ns, const SampleClock& clock,
            std::span<const float> values, double now_s);
  // Nothing came for a while: to be called now and then.
  void idle(double now_s);
  // A block that has its own exact clock and index, or one time a value; the channel is among those
  // named beforehand.
  void push(const SampleBlock& block, const std::string& channel, double now_s);
  void finish();
  [[nodiscard]] std::int64_t dropped() const {
    return uncountable_ + (driver_ ? driver_->dropped() : 0);
  }
  // Of the capture's first sample, in the sender's count; 0 before there is one.
  [[nodiscard]] std::int64_t first_ns() const { return any_ ? first_ns_ : 0; }
  [[nodiscard]] bool started() const { return driver_ != nullptr; }

 private:
  struct Kept {
    std::size_t channel;
    std::int64_t time_ns;
    SampleClock clock;
    std::vector<float> values;
    double now_s;
  };
  [[nodiscard]] std::size_t number_of(const std::string& channel);
  void start();
  void hand_on(const Kept& kept);
  void push(std::size_t channel, SampleBlock block, double now_s);
  void pass_over_the_silent(double now_s);
  void tell_impossible();

  Rig rig_;
  Plan plan_;
  double patience_s_;
  std::function<void(const Event&)> on_event_;
  std::function<void(const std::string&)> on_remark_;
  std::vector<std::string> names_, units_;
  std::unordered_map<std::string, std::size_t> index_;  // by lower-case name; kLate: came too late
  std::vector<std::size_t> used_;                       // channels with a role
  std::vector<double> received_s_;  // of each channel, by the host's clock; 0: not yet
  std::vector<Kept> waiting_;
  std::unique_ptr<ChainDriver> driver_;
  RigMatch match_ = {};
  Plausibility plausibility_;
  bool told_impossible_ = false;
  std::size_t kept_values_ = 0;
  std::int64_t uncountable_ = 0;  // samples beyond what can be counted
  double first_wait_s_ = 0;
  bool any_ = false;
  std::int64_t first_ns_ = 0, newest_ns_ = 0;
};

}  // namespace airlatch
