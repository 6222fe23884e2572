// instrument.hpp: one live instrument, spoken to through libsigrok, in a process of its own.
//
// libsigrok does not report a lost instrument, spins on a port that was hung up, and can hang in
// stop: so each instrument runs in a child process that may be killed at any time. What it measures
// comes through a pipe as length-prefixed InstrumentMessages, which the parent watches. A parent
// that is too slow finds a bounded queue in the child; what that cannot hold is counted and told.
//
// Time   CLOCK_MONOTONIC. Evenly sampled devices: their first packet's arrival less its length,
//        then their own rate, followed against this clock (ClockFollower). Meters: the arrival of
//        each reading.
#pragma once
#include <sys/types.h>

#include <string>
#include <utility>
#include <vector>

#include "airlatch/v1/sample.pb.h"

namespace airlatch {

// "driver[:key=value...]": libsigrok's driver id, its scan options (conn, serialcomm, ...) and
// device settings (samplerate, ...) by libsigrok's own names; `as=a,b` names its channels.
struct InstrumentSpec {
  std::string text, driver;
  std::vector<std::pair<std::string, std::string>> settings;
  std::vector<std::string> names;
};

// Throws InputError (kUsage).
InstrumentSpec parse_instrument(const std::string& text);

struct FoundInstrument {
  std::string driver, about;  // about: maker's and model's own words
  std::vector<std::string> channels;
  std::string rates;  // in words
};

// Asks the drivers that find their devices by themselves, or the one named with its connection.
// Throws InputError (kNoInstrument) where the driver is not known.
std::vector<FoundInstrument> find_instruments(const std::string& spec = "");

// All drivers of this libsigrok, "id: description" each.
std::vector<std::string> list_drivers();

class InstrumentProcess {
 public:
  explicit InstrumentProcess(const InstrumentSpec& spec);
  ~InstrumentProcess();  // kills the child if it still runs
  InstrumentProcess(const InstrumentProcess&) = delete;
  InstrumentProcess& operator=(const InstrumentProcess&) = delete;

  [[nodiscard]] int fd() const { return fd_; }
  // Reads what has come, without waiting. False once the child is gone.
  bool read(std::vector<v1::InstrumentMessage>& messages);
  // It measures no more, tells what it still has, and goes; one that hangs does not.
  void ask_to_end() const;
  void kill();  // a child may be killed at any time: what it has told is told

 private:
  pid_t child_ = -1;
  int fd_ = -1;
  std::string buffer_;
};

}  // namespace airlatch
