// SPDX-License-Identifier: GPL-3.0-or-later
// files.hpp: small files of a test, in a folder that goes with it.
#pragma once
#include <zip.h>

#include <cstdint>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "plugin/sources/source.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch::test {

class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "airlatch-test-XXXXXX").string();
    path_ = ::mkdtemp(name.data());
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] std::string at(const std::string& name) const { return (path_ / name).string(); }
  std::string write(const std::string& name, const std::string& content) const {
    std::ofstream(at(name), std::ios::binary) << content;
    return at(name);
  }

 private:
  std::filesystem::path path_;
};

inline std::string read_file(const std::string& path) {
  std::ostringstream out;
  out << std::ifstream(path, std::ios::binary).rdbuf();
  return out.str();
}

// Entries of a zip, stored (not deflated unless asked), in order.
using Entries = std::vector<std::pair<std::string, std::string>>;
inline void write_zip(const std::string& path, const Entries& entries, bool deflate = false) {
  int error = 0;
  zip_t* zip = zip_open(path.c_str(), ZIP_CREATE | ZIP_TRUNCATE, &error);
  for (const auto& [name, content] : entries) {
    zip_source_t* source = zip_source_buffer(zip, content.data(), content.size(), 0);
    const auto index = static_cast<zip_uint64_t>(zip_file_add(zip, name.c_str(), source, 0));
    zip_set_file_compression(zip, index, deflate ? ZIP_CM_DEFLATE : ZIP_CM_STORE, 1);
  }
  if (zip_close(zip) != 0) zip_discard(zip);
}

inline std::string floats(const std::vector<float>& values) {
  std::string out(values.size() * sizeof(float), '\0');
  if (!values.empty()) std::memcpy(out.data(), values.data(), out.size());
  return out;
}

// What a source hands out, channel by channel.
struct Content {
  std::vector<SourceChannel> channels;
  std::vector<std::vector<float>> values;
  std::vector<std::vector<std::int64_t>> times_ns;
  std::string damage;
};
inline Content read_all(const std::string& path, const OpenOptions& options = {}) {
  const auto source = open_source(path, options);
  Content out{source->channels(), {}, {}, {}};
  out.values.resize(out.channels.size());
  out.times_ns.resize(out.channels.size());
  SampleBlock block;
  while (source->next(block)) {
    auto& values = out.values[block.channel];
    for (std::size_t k = 0; k < block.values.size(); ++k)
      out.times_ns[block.channel].push_back(block.time_ns(k));
    values.insert(values.end(), block.values.begin(), block.values.end());
  }
  out.damage = source->damage();
  return out;
}

// The one line an unusable file is refused with; empty when it is not refused.
struct Refusal {
  std::string line;
  int status = 0;
};
inline Refusal refusal(const std::string& path, const OpenOptions& options = {}) {
  try {
    read_all(path, options);
  } catch (const InputError& error) {
    return {error.what(), static_cast<int>(error.status())};
  }
  return {};
}

}  // namespace airlatch::test
