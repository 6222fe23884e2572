// SPDX-License-Identifier: GPL-3.0-or-later
// instrument_process.hpp: the child process that serves one instrument, seen from the parent.
//
// libsigrok does not report a lost instrument, spins on a port that was hung up, and can hang in
// stop: so each instrument runs in a child process that may be killed at any time. What it measures
// comes through a pipe (message_frames), which the parent watches.
#pragma once
#include <sys/types.h>

#include <functional>
#include <vector>

#include "plugin/live/instrument_spec.hpp"
#include "plugin/live/message_frames.hpp"

namespace airlatch {

// What the child does: it writes frames to `fd`, which is not waiting. The process ends with it.
using InstrumentChild = std::function<void(const InstrumentSpec& spec, int fd)>;

class InstrumentProcess {
 public:
  // Throws InputError (kNoInstrument) where no pipe can be had.
  InstrumentProcess(const InstrumentSpec& spec, const InstrumentChild& child);
  ~InstrumentProcess();  // kills the child if it still runs
  InstrumentProcess(const InstrumentProcess&) = delete;
  InstrumentProcess& operator=(const InstrumentProcess&) = delete;

  [[nodiscard]] int fd() const { return fd_; }
  // Reads what has come, without waiting. False once the child is gone.
  bool read(std::vector<v1::InstrumentMessage>& messages);
  // The child stops measuring, reports what it still has, and ends; one that hangs does not.
  void ask_to_end() const;

 private:
  pid_t child_ = -1;
  int fd_ = -1;
  FrameReader frames_;
};

}  // namespace airlatch
