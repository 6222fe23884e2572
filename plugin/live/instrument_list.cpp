// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/instrument_list.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

#include "plugin/live/send_queue.hpp"
#include "plugin/live/sigrok_device.hpp"
#include "plugin/live/supervisor.hpp"
#include "plugin/system/lazy/glib.hpp"
#include "plugin/system/lazy/sigrok.hpp"

namespace airlatch {
namespace {

std::string rates_in_words(double hz) {
  return hz > 0 ? fmt::format("{} samples/s unless samplerate= says otherwise", hz)
                : "readings as they come";
}

FoundInstrument described(const SigrokDevice& device) {
  FoundInstrument found;
  found.driver = device.driver->name;
  for (const char* words :
       {lazy::sr_dev_inst_vendor_get(device.device), lazy::sr_dev_inst_model_get(device.device),
        lazy::sr_dev_inst_connid_get(device.device)})
    if (words && *words) found.about += (found.about.empty() ? "" : " ") + std::string(words);
  for (GSList* l = lazy::sr_dev_inst_channels_get(device.device); l; l = l->next)
    found.channels.emplace_back(static_cast<const sr_channel*>(l->data)->name);
  found.rates = rates_in_words(static_cast<double>(rate_hz_of(device)));
  return found;
}

// What the child of `ask` does: says what it has found.
void introduce(const InstrumentSpec& spec, int fd) {
  v1::InstrumentMessage message;
  try {
    const SigrokContext context;
    const SigrokDevice device = open_device(context, spec);
    const FoundInstrument found = described(device);
    message.set_about(found.about);
    for (const std::string& name : found.channels) {
      auto& channel = *message.add_channels();
      channel.set_name(name);
      channel.set_rate_hz(static_cast<double>(rate_hz_of(device)));
    }
  } catch (const InputError& error) {
    message.set_complaint(error.what());
  }
  SendQueue queue(fd);
  queue.add(message);
  std::ignore = queue.flush();
}

// In a process of its own, since a driver may hang while it looks.
FoundInstrument ask(const InstrumentSpec& spec) {
  Supervisor supervisor({spec}, introduce, {});
  supervisor.start([] { return false; });
  FoundInstrument found;
  found.driver = spec.driver;
  found.about = supervisor.about(0);
  for (const auto& channel : supervisor.channels()) {
    found.channels.push_back(channel.name());
    found.rates = rates_in_words(channel.rate_hz());
  }
  return found;
}

}  // namespace

std::vector<FoundInstrument> find_instruments(const std::string& text) {
  if (!text.empty()) return {ask(parse_instrument(text))};
  const SigrokContext context;
  std::vector<FoundInstrument> out;
  for (sr_dev_driver** d = lazy::sr_driver_list(context.get()); *d; ++d) {
    if (lazy::sr_driver_init(context.get(), *d) != SR_OK) continue;
    GSList* found = lazy::sr_driver_scan(*d, nullptr);
    for (GSList* l = found; l; l = l->next)
      out.push_back(described({*d, static_cast<sr_dev_inst*>(l->data)}));
    lazy::g_slist_free(found);
  }
  return out;
}

std::vector<std::string> list_drivers() {
  const SigrokContext context;
  std::vector<std::string> out;
  for (sr_dev_driver** d = lazy::sr_driver_list(context.get()); *d; ++d)
    out.push_back(fmt::format("{}: {}", (*d)->name, (*d)->longname));
  std::sort(out.begin(), out.end());
  return out;
}

}  // namespace airlatch
