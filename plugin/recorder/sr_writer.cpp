// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/recorder/sr_writer.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <bit>

#include "plugin/system/input_error.hpp"
#include "plugin/system/lazy/libzip.hpp"

namespace airlatch {
namespace {
static_assert(std::endian::native == std::endian::little, "samples are written as they lie");
constexpr std::size_t kChunk = 1U << 20;  // samples; 4 MiB, libsigrok's own read size

[[noreturn]] void fail(const std::string& path, const std::string& why, bool created) {
  throw InputError(created ? ExitStatus::kReadWriteFailed : ExitStatus::kCannotCreate, path, "",
                   fmt::format("could not be written ({})", why),
                   "name a place that can be written to and has room");
}
}  // namespace

void write_sr(const std::string& path, std::int64_t rate_hz,
              const std::vector<std::pair<std::string, const std::vector<float>*>>& channels) {
  std::string metadata = fmt::format(
      "[global]\nsigrok version=0.5.2\n\n[device 1]\nsamplerate={} Hz\ntotal analog={}\n", rate_hz,
      channels.size());
  for (std::size_t c = 0; c < channels.size(); ++c)
    metadata += fmt::format("analog{}={}\n", c + 1, channels[c].first);
  const std::string temporary = fmt::format("{}.part-{}", path, ::getpid());
  int code = 0;
  zip_t* zip = lazy::zip_open(temporary.c_str(), ZIP_CREATE | ZIP_TRUNCATE, &code);
  if (!zip) {
    zip_error_t error;
    lazy::zip_error_init_with_code(&error, code);
    const std::string why = lazy::zip_error_strerror(&error);
    lazy::zip_error_fini(&error);
    fail(path, why, false);
  }
  const auto add = [&](const std::string& name, const void* data, std::size_t size, bool deflate) {
    zip_source_t* source = lazy::zip_source_buffer(zip, data, size, 0);
    const zip_int64_t index =
        source ? lazy::zip_file_add(zip, name.c_str(), source, ZIP_FL_ENC_UTF_8) : -1;
    if (index < 0) {
      if (source) lazy::zip_source_free(source);
      const std::string why = lazy::zip_strerror(zip);
      lazy::zip_discard(zip);
      fail(path, why, true);
    }
    lazy::zip_set_file_compression(zip, static_cast<zip_uint64_t>(index),
                                   deflate ? ZIP_CM_DEFLATE : ZIP_CM_STORE, deflate ? 1 : 0);
    // A fixed date: the same samples give the same file.
    lazy::zip_file_set_dostime(zip, static_cast<zip_uint64_t>(index), 0, (1 << 5) | 1, 0);
  };
  static const char kVersion[] = {'2'};
  add("version", kVersion, 1, false);
  add("metadata", metadata.data(), metadata.size(), false);
  for (std::size_t c = 0; c < channels.size(); ++c) {
    const std::vector<float>& values = *channels[c].second;
    for (std::size_t from = 0, m = 1; from < values.size(); from += kChunk, ++m)
      add(fmt::format("analog-1-{}-{}", c + 1, m), values.data() + from,
          std::min(kChunk, values.size() - from) * sizeof(float), true);
  }
  if (lazy::zip_close(zip) != 0) {
    const std::string why = lazy::zip_strerror(zip);
    lazy::zip_discard(zip);
    ::unlink(temporary.c_str());
    fail(path, why, false);
  }
  if (::rename(temporary.c_str(), path.c_str()) != 0) {
    ::unlink(temporary.c_str());
    fail(path, "it cannot be put in its place", false);
  }
}

}  // namespace airlatch
