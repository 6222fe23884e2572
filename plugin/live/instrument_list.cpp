// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/instrument_list.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "plugin/live/sigrok_device.hpp"
#include "plugin/system/lazy/glib.hpp"
#include "plugin/system/lazy/sigrok.hpp"

namespace airlatch {
namespace {

FoundInstrument described(const SigrokDevice& device) {
  FoundInstrument found;
  found.driver = device.driver->name;
  for (const char* words :
       {lazy::sr_dev_inst_vendor_get(device.device), lazy::sr_dev_inst_model_get(device.device),
        lazy::sr_dev_inst_connid_get(device.device)})
    if (words && *words) found.about += (found.about.empty() ? "" : " ") + std::string(words);
  for (GSList* l = lazy::sr_dev_inst_channels_get(device.device); l; l = l->next)
    found.channels.emplace_back(static_cast<const sr_channel*>(l->data)->name);
  const std::uint64_t hz = rate_hz_of(device);
  found.rates = hz ? fmt::format("{} samples/s unless samplerate= says otherwise", hz)
                   : "readings as they come";
  return found;
}

}  // namespace

std::vector<FoundInstrument> find_instruments(const std::string& text) {
  const SigrokContext context;
  if (!text.empty()) return {described(open_device(context, parse_instrument(text)))};
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
