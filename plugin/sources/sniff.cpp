// SPDX-License-Identifier: GPL-3.0-or-later
// Which format a capture is in, recognised by its first bytes and never by its name.
#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <string_view>

#include "plugin/sources/delimited_text.hpp"
#include "plugin/sources/mcap_records.hpp"
#include "plugin/sources/recording.hpp"
#include "plugin/sources/sigrok_file.hpp"
#include "plugin/sources/source.hpp"
#include "plugin/sources/wav_file.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

std::unique_ptr<Source> open_any(const std::string& path, const OpenOptions& options) {
  if (path == "-") return open_delimited_text(path, options);
  struct stat about {};
  if (::stat(path.c_str(), &about) != 0)
    throw InputError(
        errno == ENOENT || errno == ENOTDIR ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed,
        path, "", std::strerror(errno), "check the name and the folder");
  if (S_ISDIR(about.st_mode))
    throw InputError(ExitStatus::kUnusableData, path, "", "this is a folder",
                     "name a capture file in it");
  if (!S_ISREG(about.st_mode))
    return open_delimited_text(path, options);  // a pipe: not looked into
  std::FILE* file = std::fopen(path.c_str(), "rb");
  if (!file)
    throw InputError(ExitStatus::kReadWriteFailed, path, "", std::strerror(errno),
                     "check that you may read it");
  std::array<char, 4096> buffer;
  const std::string_view head(buffer.data(), std::fread(buffer.data(), 1, buffer.size(), file));
  std::fclose(file);
  if (head.empty())
    throw InputError(ExitStatus::kUnusableData, path, "", "the file is empty", "record it again");
  if (head.starts_with("PK\x03\x04") || head.starts_with("PK\x05\x06"))
    return open_sigrok_file(path, options);
  if (head.starts_with(mcap::kMagic)) return open_recording(path);
  if (head.starts_with("RIFF") || head.starts_with("RF64") || head.starts_with("RIFX"))
    return open_wav_file(path);
  if (head.starts_with("\xff\xfe") || head.starts_with("\xfe\xff"))
    throw InputError(ExitStatus::kUnusableData, path, "byte 1", "text in UTF-16",
                     "save it as UTF-8 or plain text");
  if (head.find('\0') != std::string_view::npos)
    throw InputError(
        ExitStatus::kUnusableData, path, fmt::format("byte {}", head.find('\0') + 1),
        "neither text nor a known capture",
        "a libsigrok session (.sr), a recording (MCAP), WAV, or delimited text can be read");
  return open_delimited_text(path, options);
}

}  // namespace

std::unique_ptr<Source> open_source(const std::string& path, const OpenOptions& options) {
  auto source = open_any(path, options);
  const std::vector<SourceChannel>& channels = source->channels();
  const auto refuse = [&](const std::string& place, const std::string& what,
                          const std::string& mend) {
    throw InputError(ExitStatus::kUnusableData, path == "-" ? "standard input" : path, place, what,
                     mend);
  };
  if (channels.size() > Source::kMostChannels)
    refuse("", fmt::format("{} channels", channels.size()),
           fmt::format("at most {} can be read: keep those you need", Source::kMostChannels));
  for (std::size_t c = 0; c < channels.size(); ++c)
    if (channels[c].name.size() > Source::kLongestName ||
        channels[c].unit.size() > Source::kLongestName)
      refuse(fmt::format("channel {}", c + 1),
             fmt::format("its name has {} bytes",
                         std::max(channels[c].name.size(), channels[c].unit.size())),
             fmt::format("rename it: at most {} can be read", Source::kLongestName));
  return source;
}

}  // namespace airlatch
