// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/sigrok_device.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <mutex>
#include <set>
#include <vector>

#include "plugin/live/connection.hpp"
#include "plugin/system/lazy/glib.hpp"
#include "plugin/system/lazy/sigrok.hpp"

namespace airlatch {
namespace {

constexpr std::uint32_t kKeyMask = 0x1fffffff;  // a key without its get/set/list flags

// What libsigrok complained of last: some refusals by the system show only there.
std::mutex complaint_mutex;
std::string last_complaint;

int keep_complaint(void*, int, const char* format, va_list arguments) {
  std::array<char, 256> text{};
  std::vsnprintf(text.data(), text.size(), format, arguments);
  const std::lock_guard lock(complaint_mutex);
  last_complaint = text.data();
  return 0;
}

bool complained_of_permission() {
  const std::lock_guard lock(complaint_mutex);
  return last_complaint.find("ermission") != std::string::npos ||
         last_complaint.find("LIBUSB_ERROR_ACCESS") != std::string::npos ||
         last_complaint.find("Access denied") != std::string::npos;
}

GVariant* variant_of(const sr_key_info& info, const std::string& value) {
  std::uint64_t size = 0;
  switch (info.datatype) {
    case SR_T_UINT64:
      return lazy::sr_parse_sizestring(value.c_str(), &size) == SR_OK
                 ? lazy::g_variant_new_uint64(size)
                 : nullptr;
    case SR_T_INT32:
      return lazy::g_variant_new_int32(std::atoi(value.c_str()));
    case SR_T_BOOL:
      return lazy::g_variant_new_boolean(value == "true" || value == "1" || value == "on");
    case SR_T_FLOAT:
      return lazy::g_variant_new_double(std::strtod(value.c_str(), nullptr));
    case SR_T_STRING:
      return lazy::g_variant_new_string(value.c_str());
    default:
      return nullptr;
  }
}

const sr_key_info* key_info(const std::string& name) {
  return lazy::sr_key_info_name_get(SR_KEY_CONFIG, name.c_str());
}

std::set<std::uint32_t> scan_keys_of(const sr_dev_driver* driver) {
  std::set<std::uint32_t> keys;
  GArray* list = lazy::sr_driver_scan_options_list(driver);
  for (guint k = 0; list && k < list->len; ++k)
    keys.insert(g_array_index(list, std::uint32_t, k) & kKeyMask);
  if (list) lazy::g_array_free(list, TRUE);
  return keys;
}

// What the driver finds with those of the settings that it scans by; null: nothing.
GSList* scan(sr_dev_driver* driver, const InstrumentSpec& spec,
             const std::set<std::uint32_t>& scan_keys) {
  GSList* options = nullptr;
  std::vector<std::unique_ptr<sr_config>> kept;
  for (const auto& [name, value] : spec.settings) {
    const sr_key_info* info = key_info(name);
    if (!info)
      refuse(spec, fmt::format("'{}' is not a setting that libsigrok knows", name),
             "conn, serialcomm and samplerate are usual ones");
    if (!scan_keys.contains(info->key)) continue;
    GVariant* variant = variant_of(*info, value);
    if (!variant)
      refuse(spec, fmt::format("'{}' is not a value for {}", value, name), "correct it");
    kept.push_back(
        std::make_unique<sr_config>(sr_config{info->key, lazy::g_variant_ref_sink(variant)}));
    options = lazy::g_slist_append(options, kept.back().get());
  }
  GSList* found = lazy::sr_driver_scan(driver, options);
  lazy::g_slist_free(options);
  for (const auto& config : kept) lazy::g_variant_unref(config->data);
  return found;
}

// Why the scan found nothing, as far as libsigrok lets one know.
Diagnosis of_scan(const InstrumentSpec& spec, const std::set<std::uint32_t>& scan_keys) {
  if (complained_of_permission())
    return {"it is there, but you may not open it", "install libsigrok's udev rules", false};
  const bool named = std::any_of(spec.settings.begin(), spec.settings.end(),
                                 [](const auto& setting) { return setting.first == "conn"; });
  if (!named && scan_keys.contains(SR_CONF_SERIALCOMM))
    return {"this driver finds nothing by itself",
            fmt::format("name the port: {}:conn=/dev/ttyUSB0", spec.driver), false};
  return {"nothing answers", "check the cable, that it is switched on, and libsigrok's udev rules"};
}

[[noreturn]] void refuse_absent(const InstrumentSpec& spec,
                                const std::set<std::uint32_t>& scan_keys) {
  const Diagnosis why = diagnose(spec, of_scan(spec, scan_keys));
  if (!why.may_come) refuse(spec, why.what, why.mend);
  throw InstrumentAbsent(spec, why.what, why.mend);
}

}  // namespace

SigrokContext::SigrokContext() {
  lazy::sr_log_callback_set(keep_complaint, nullptr);
  mute();
  if (lazy::sr_init(&context_) == SR_OK) return;
  unmute();
  throw InputError(ExitStatus::kNoInstrument, "", "", "libsigrok cannot be started",
                   "check its installation");
}

SigrokContext::~SigrokContext() {
  lazy::sr_exit(context_);
  unmute();
}

void SigrokContext::mute() {
  std::fflush(stdout);
  out_ = ::fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 3);
  error_ = ::fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
  const int nowhere = ::open("/dev/null", O_WRONLY | O_CLOEXEC);
  for (const int fd : {STDOUT_FILENO, STDERR_FILENO}) ::dup2(nowhere, fd);
  ::close(nowhere);
}

void SigrokContext::unmute() const {
  std::fflush(stdout);
  ::dup2(out_, STDOUT_FILENO);
  ::dup2(error_, STDERR_FILENO);
  ::close(out_);
  ::close(error_);
}

sr_dev_driver* SigrokContext::driver(const std::string& name) const {
  for (sr_dev_driver** d = lazy::sr_driver_list(context_); *d; ++d)
    if (name == (*d)->name) return *d;
  return nullptr;
}

void refuse(const InstrumentSpec& spec, const std::string& what, const std::string& mend) {
  throw InputError(ExitStatus::kNoInstrument, spec.text, "", what, mend);
}

SigrokDevice open_device(const SigrokContext& context, const InstrumentSpec& spec) {
  sr_dev_driver* driver = context.driver(spec.driver);
  if (!driver)
    refuse(spec, "libsigrok has no such driver", "airlatch instruments --drivers lists them");
  if (lazy::sr_driver_init(context.get(), driver) != SR_OK)
    refuse(spec, "its driver does not start", "check libsigrok");
  const std::set<std::uint32_t> scan_keys = scan_keys_of(driver);
  GSList* found = scan(driver, spec, scan_keys);
  if (!found) refuse_absent(spec, scan_keys);
  auto* device = static_cast<sr_dev_inst*>(found->data);
  lazy::g_slist_free(found);
  if (lazy::sr_dev_open(device) != SR_OK)
    throw InstrumentAbsent(spec, "it cannot be opened", "check that no other program uses it");
  for (const auto& [name, value] : spec.settings) {
    const sr_key_info* info = key_info(name);
    if (scan_keys.contains(info->key)) continue;
    GVariant* variant = variant_of(*info, value);
    if (!variant || lazy::sr_config_set(device, nullptr, info->key, variant) != SR_OK)
      refuse(spec, fmt::format("it does not take {}={}", name, value),
             "airlatch instruments shows what it has");
  }
  return {driver, device};
}

std::uint64_t rate_hz_of(const SigrokDevice& device) {
  GVariant* rate = nullptr;
  if (lazy::sr_config_get(device.driver, device.device, nullptr, SR_CONF_SAMPLERATE, &rate) !=
      SR_OK)
    return 0;
  const std::uint64_t hz = lazy::g_variant_get_uint64(rate);
  lazy::g_variant_unref(rate);
  return hz;
}

}  // namespace airlatch
