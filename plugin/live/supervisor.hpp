// SPDX-License-Identifier: GPL-3.0-or-later
// supervisor.hpp: starts instruments, watches them, and restarts those that are lost.
//
// In    instruments by their specs, each run in a process (InstrumentChild).
// Out   their sample blocks, by the number of the channel, and remarks for people: lost, back
//       again, a queue that fills, values lost.
// How   an instrument that has gone, or has sent nothing for kSilent_s or three of its own
//       readings, counts as lost: its process is killed, and started again every kAgain_s until it
//       sends. One that is not there at the start is waited for in the same way, if that is asked
//       for.
#pragma once
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "plugin/live/host_clock.hpp"
#include "plugin/live/instrument_process.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {

// Receives what instruments send.
struct SupervisorListener {
  std::function<void(std::size_t channel, const v1::SampleBlock&)> on_block;
  std::function<void(const std::string&)> on_remark;
};

class Supervisor {
 public:
  static constexpr double kHello_s = 10;          // an instrument answers within this
  static constexpr double kSilent_s = 2;          // or three readings: then it counts as lost
  static constexpr double kEnding_s = 0.5;        // of silence at the end, until it is killed
  static constexpr double kAgain_s = 2;           // between attempts to restart it
  static constexpr double kKnock_s = 0.5;         // the same, while it is waited for at the start
  static constexpr double kQueueReported = 0.25;  // of an instrument's queue: from here on
  static constexpr double kTold_s = 10;           // between remarks on values that are lost

  // `now_s`: the host's clock, from any origin.
  Supervisor(const std::vector<InstrumentSpec>& specs, InstrumentChild child,
             SupervisorListener listener, std::function<double()> now_s = host_now_s);

  // Every instrument reports its channels before anything is handed on; for one that is not there
  // yet this waits `wait_s`, and what the others measure meanwhile is let go. Throws InputError
  // (kNoInstrument where one does not answer or `stopped` says so, kUsage where two channels have
  // one name).
  void start(const std::function<bool()>& stopped, double wait_s = 0);
  // Of all instruments, by channel number.
  [[nodiscard]] const std::vector<v1::InstrumentMessage::Channel>& channels() const {
    return channels_;
  }
  // Of the n-th instrument, maker and model in its own words, where it has said so.
  [[nodiscard]] const std::string& about(std::size_t n) const { return instruments_[n].about; }
  // Hands on what came while others had not answered yet.
  void begin();
  // Waits for at most so long, hands on what has come, and restarts the lost ones.
  void serve(int wait_ms);
  // What the instruments had measured before the end is handed on too; a silent one is killed.
  void end();

  [[nodiscard]] double fullest_queue() const;                              // share in use
  [[nodiscard]] std::int64_t lost_values() const { return lost_values_; }  // told by remarks
  // Those that are lost now, by their specs' text; of how many.
  [[nodiscard]] std::vector<std::string> lost() const;
  [[nodiscard]] std::size_t count() const { return instruments_.size(); }
  // What is known of the instruments' clocks, a sentence each.
  [[nodiscard]] std::vector<std::string> clock_remarks() const;

 private:
  // One instrument, its child process, and whether it is still there.
  struct Instrument {
    InstrumentSpec spec;
    std::unique_ptr<InstrumentProcess> process;            // none: it is lost
    std::vector<v1::InstrumentMessage::Channel> channels;  // none: it has not answered yet
    std::string complaint, about;
    double received_s = 0, tried_s = 0, period_s = 0;
    bool lost = false;
    double queue_share = 0;  // of its bounded queue, as it last reported
    std::int64_t lost_values = 0, untold_values = 0;
    double told_s = -kTold_s;
    double drift_ppm = 0, drift_u_ppm = 0;  // of its clock; u = 0: not known
  };
  // How long an instrument that is not there is waited for at the start.
  struct Waiting {
    double most_s, until_s;
    bool told = false;
  };
  void launch(Instrument& instrument);
  void poll(int wait_ms) const;
  void hear(Instrument& instrument, Waiting& waiting);
  void miss(Instrument& instrument, const InputError& why, bool may_come, Waiting& waiting);
  void number_channels();
  void serve(Instrument& instrument);
  void drain(Instrument& instrument);
  void take(Instrument& instrument, const v1::InstrumentMessage& message);
  void follow(Instrument& instrument, const v1::InstrumentMessage& message);
  void tell_lost_values(Instrument& instrument);

  InstrumentChild child_;
  SupervisorListener listener_;
  std::function<double()> now_s_;
  std::deque<Instrument> instruments_;
  std::vector<v1::InstrumentMessage::Channel> channels_;
  std::map<std::string, std::size_t> number_of_;
  std::vector<std::pair<Instrument*, v1::InstrumentMessage>> early_;
  std::int64_t lost_values_ = 0;
};

}  // namespace airlatch
