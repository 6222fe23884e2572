// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/recorder/sr_writer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cerrno>
#include <cstring>
#include <memory>

#include "plugin/system/input_error.hpp"
#include "plugin/system/lazy/libzip.hpp"
#include "plugin/system/shown_text.hpp"
#include "plugin/system/whole_file.hpp"

namespace airlatch {
namespace {
static_assert(std::endian::native == std::endian::little, "samples are written as they lie");
constexpr std::uint64_t kChunk = 1U << 20;  // samples; 4 MiB, libsigrok's own read size

[[noreturn]] void fail(const std::string& path, const std::string& why) {
  throw InputError(ExitStatus::kReadWriteFailed, path, "",
                   fmt::format("could not be written ({})", why),
                   "name a place that can be written to and has room");
}

// A chunk's samples as libzip wants to read them.
struct ChunkInput {
  const SrChannel& channel;
  std::uint64_t begin = 0, end = 0, at = 0;  // bytes
  zip_error_t error{};
};

zip_int64_t read_chunk(ChunkInput& input, void* to, zip_uint64_t room) {
  const std::uint64_t bytes = std::min<std::uint64_t>(room, input.end - input.at);
  if (!input.channel.copy(input.at, to, bytes)) {
    lazy::zip_error_set(&input.error, ZIP_ER_READ, errno);
    return -1;
  }
  input.at += bytes;
  return static_cast<zip_int64_t>(bytes);
}

zip_int64_t chunk_input(void* state, void* data, zip_uint64_t size, zip_source_cmd_t command) {
  auto& input = *static_cast<ChunkInput*>(state);
  switch (command) {
    case ZIP_SOURCE_OPEN:
      input.at = input.begin;
      return 0;
    case ZIP_SOURCE_READ:
      return read_chunk(input, data, size);
    case ZIP_SOURCE_CLOSE:
      return 0;
    case ZIP_SOURCE_STAT: {
      if (size < sizeof(zip_stat_t)) return -1;
      auto& about = *static_cast<zip_stat_t*>(data);
      lazy::zip_stat_init(&about);
      about.valid = ZIP_STAT_SIZE;
      about.size = input.end - input.begin;
      return sizeof about;
    }
    case ZIP_SOURCE_ERROR:
      return lazy::zip_error_to_data(&input.error, data, size);
    case ZIP_SOURCE_FREE:
      delete &input;
      return 0;
    case ZIP_SOURCE_SUPPORTS:
      return lazy::zip_source_make_command_bitmap(ZIP_SOURCE_OPEN, ZIP_SOURCE_READ,
                                                  ZIP_SOURCE_CLOSE, ZIP_SOURCE_STAT,
                                                  ZIP_SOURCE_ERROR, ZIP_SOURCE_FREE, -1);
    default:
      lazy::zip_error_set(&input.error, ZIP_ER_OPNOTSUPP, 0);
      return -1;
  }
}

// A zip being put together. Nothing is written before `close`.
class Zip {
 public:
  Zip(const std::string& path, const std::string& made_at) : path_(path) {
    int code = 0;
    zip_ = lazy::zip_open(made_at.c_str(), ZIP_CREATE | ZIP_TRUNCATE, &code);
    if (zip_) return;
    zip_error_t error;
    lazy::zip_error_init_with_code(&error, code);
    const std::string why = lazy::zip_error_strerror(&error);
    lazy::zip_error_fini(&error);
    fail(path_, why);
  }
  ~Zip() {
    if (zip_) lazy::zip_discard(zip_);
  }
  Zip(const Zip&) = delete;
  Zip& operator=(const Zip&) = delete;

  // `bytes` live until `close`.
  void add(const std::string& name, const std::string& bytes) {
    add(name, lazy::zip_source_buffer(zip_, bytes.data(), bytes.size(), 0), false);
  }
  void add_chunk(const std::string& name, const SrChannel& channel, std::uint64_t begin,
                 std::uint64_t end) {
    auto input = std::make_unique<ChunkInput>(ChunkInput{channel, begin, end});
    zip_error_t error;
    lazy::zip_error_init(&input->error);
    lazy::zip_error_init(&error);
    zip_source_t* const source = lazy::zip_source_function_create(chunk_input, input.get(), &error);
    lazy::zip_error_fini(&error);
    if (source) static_cast<void>(input.release());  // freed with the source
    add(name, source, true);
  }
  void close() {
    if (lazy::zip_close(zip_) != 0) fail(path_, lazy::zip_strerror(zip_));
    zip_ = nullptr;
  }

 private:
  void add(const std::string& name, zip_source_t* source, bool deflate) {
    const zip_int64_t index =
        source ? lazy::zip_file_add(zip_, name.c_str(), source, ZIP_FL_ENC_UTF_8) : -1;
    if (index < 0) {
      const std::string why = lazy::zip_strerror(zip_);
      if (source) lazy::zip_source_free(source);
      fail(path_, why);
    }
    const auto entry = static_cast<zip_uint64_t>(index);
    lazy::zip_set_file_compression(zip_, entry, deflate ? ZIP_CM_DEFLATE : ZIP_CM_STORE,
                                   deflate ? 1 : 0);
    // A fixed date: the same samples give the same file.
    lazy::zip_file_set_dostime(zip_, entry, 0, (1 << 5) | 1, 0);
  }
  const std::string& path_;
  zip_t* zip_ = nullptr;
};

std::string metadata_of(std::int64_t rate_hz, const std::vector<SrChannel>& channels) {
  std::string text = fmt::format(
      "[global]\nsigrok version=0.5.2\n\n[device 1]\nsamplerate={} Hz\ntotal analog={}\n", rate_hz,
      channels.size());
  for (std::size_t c = 0; c < channels.size(); ++c)
    text += fmt::format("analog{}={}\n", c + 1, shown_text(channels[c].name));
  return text;
}

}  // namespace

void write_sr(const std::string& path, std::int64_t rate_hz,
              const std::vector<SrChannel>& channels) {
  const std::string version = "2", metadata = metadata_of(rate_hz, channels);
  WholeFile file(path);
  {
    Zip zip(path, file.by_name());
    zip.add("version", version);
    zip.add("metadata", metadata);
    for (std::size_t c = 0; c < channels.size(); ++c)
      for (std::uint64_t from = 0, m = 1; from < channels[c].samples; from += kChunk, ++m)
        zip.add_chunk(fmt::format("analog-1-{}-{}", c + 1, m), channels[c], from * sizeof(float),
                      std::min(from + kChunk, channels[c].samples) * sizeof(float));
    zip.close();
  }
  file.commit();
}

void write_sr(const std::string& path, std::int64_t rate_hz,
              const std::vector<std::pair<std::string, const std::vector<float>*>>& channels) {
  std::vector<SrChannel> kept;
  for (const auto& [name, values] : channels)
    kept.push_back(
        {name, values->size(), [all = values](std::uint64_t at, void* to, std::size_t bytes) {
           std::memcpy(to, reinterpret_cast<const char*>(all->data()) + at, bytes);
           return true;
         }});
  write_sr(path, rate_hz, kept);
}

}  // namespace airlatch
