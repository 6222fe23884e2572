// SPDX-License-Identifier: GPL-3.0-or-later
// sigrok_device.hpp: a device that libsigrok has found, open and set up.
//
// What fails is refused with InputError (kNoInstrument), which says what to check; what may come
// yet, with InstrumentAbsent.
#pragma once
#include <cstdint>
#include <string>

#include "plugin/live/instrument_spec.hpp"
#include "plugin/system/input_error.hpp"

// libsigrok's own types, declared here so that its header stays out of ours.
struct sr_context;
struct sr_dev_driver;
struct sr_dev_inst;

namespace airlatch {

// Not there, and it may come yet: waiting may help.
class InstrumentAbsent : public InputError {
 public:
  InstrumentAbsent(const InstrumentSpec& spec, const std::string& what, const std::string& mend)
      : InputError(ExitStatus::kNoInstrument, spec.text, "", what, mend) {}
};

// libsigrok, from its start to its end. Whatever it and the libraries below it print in that time,
// by whichever way, reaches neither standard output nor standard error.
class SigrokContext {
 public:
  SigrokContext();
  ~SigrokContext();
  SigrokContext(const SigrokContext&) = delete;
  SigrokContext& operator=(const SigrokContext&) = delete;
  [[nodiscard]] sr_context* get() const { return context_; }
  [[nodiscard]] sr_dev_driver* driver(const std::string& name) const;  // null: there is none

 private:
  void mute();
  void unmute() const;
  sr_context* context_ = nullptr;
  int out_ = -1, error_ = -1;  // where they went before
};

struct SigrokDevice {
  sr_dev_driver* driver = nullptr;
  sr_dev_inst* device = nullptr;
};

// The first device that the named driver finds. Settings that are scan options of the driver choose
// the device, the others are set on it.
SigrokDevice open_device(const SigrokContext& context, const InstrumentSpec& spec);

std::uint64_t rate_hz_of(const SigrokDevice& device);  // 0: it sends readings as they come

[[noreturn]] void refuse(const InstrumentSpec& spec, const std::string& what,
                         const std::string& mend);

}  // namespace airlatch
