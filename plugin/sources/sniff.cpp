// SPDX-License-Identifier: GPL-3.0-or-later
// Which format a capture is in, recognised by its first bytes and never by its name.
#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <functional>
#include <string_view>

#include "plugin/sources/delimited_text.hpp"
#include "plugin/sources/foreign_files.hpp"
#include "plugin/sources/hdf5_file.hpp"
#include "plugin/sources/mat_file.hpp"
#include "plugin/sources/mcap_records.hpp"
#include "plugin/sources/npy_file.hpp"
#include "plugin/sources/recording.hpp"
#include "plugin/sources/sigrok_file.hpp"
#include "plugin/sources/source.hpp"
#include "plugin/sources/text_input.hpp"
#include "plugin/sources/vcd_file.hpp"
#include "plugin/sources/wav_file.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/input_file.hpp"

namespace airlatch {
namespace {

// A container's samples. A reading that failed is no end of them, whatever the container's reader
// takes it for.
class Container final : public Source {
 public:
  Container(std::unique_ptr<InputFile> file, std::unique_ptr<Source> inner, bool hashed)
      : file_(std::move(file)), inner_(std::move(inner)), hashed_(hashed) {}
  [[nodiscard]] const std::vector<SourceChannel>& channels() const override {
    return inner_->channels();
  }
  bool next(SampleBlock& block) override {
    if (inner_->next(block)) return true;
    file_->check();
    return false;
  }
  [[nodiscard]] std::string damage() const override { return inner_->damage(); }
  [[nodiscard]] std::vector<std::string> remarks() const override { return inner_->remarks(); }
  [[nodiscard]] std::vector<std::string> understood() const override {
    return inner_->understood();
  }
  [[nodiscard]] std::size_t values_at_once() const override { return inner_->values_at_once(); }
  [[nodiscard]] std::string sha256() override { return hashed_ ? file_->sha256() : ""; }
  [[nodiscard]] double progress() const override { return inner_->progress(); }

 private:
  std::unique_ptr<InputFile> file_;
  std::unique_ptr<Source> inner_;
  bool hashed_;
};

std::unique_ptr<Source> open_container(
    std::unique_ptr<InputFile> file, const OpenOptions& options,
    const std::function<std::unique_ptr<Source>(const InputFile&)>& open) {
  std::unique_ptr<Source> inner;
  try {
    inner = open(*file);
  } catch (const InputError&) {
    file->check();
    throw;
  }
  return std::make_unique<Container>(std::move(file), std::move(inner), options.hashed);
}

// What opens a container of arrays that begins so; nothing: it is none.
OpensArrayFile arrays_in(std::string_view head) {
  if (is_hdf5(head)) return open_hdf5;
  if (is_mat(head)) return open_mat;
  if (is_npy(head)) return open_npy;
  if (zip_begins_with_an_array(head)) return open_npz;
  return nullptr;
}

// Of text packed by gzip, which is unpacked as it is read.
std::unique_ptr<Source> open_packed(const std::string& path, std::string_view head,
                                    const OpenOptions& options) {
  std::array<char, 4096> buffer;
  Gunzip gunzip;
  const std::string_view text(buffer.data(), gunzip.unpack(head, buffer.data(), buffer.size()));
  if (is_vcd(text)) return open_vcd(path, options);
  if (!TextInput::is_wide(text) && text.find('\0') != std::string_view::npos)
    throw InputError(ExitStatus::kUnusableData, path, "",
                     "this is packed with gzip, and no text is in it", "unpack it first");
  return open_delimited_text(path, options);
}

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
  auto file = std::make_unique<InputFile>(path);
  std::array<char, 4096> buffer;
  const std::string_view head(buffer.data(), file->read_at(buffer.data(), buffer.size(), 0));
  file->check();
  if (head.empty())
    throw InputError(ExitStatus::kUnusableData, path, "", "the file is empty", "record it again");
  if (const auto foreign = foreign_file(head))
    throw InputError(ExitStatus::kUnusableData, path, "",
                     fmt::format("this is {}, which is not read", foreign->what), foreign->mend);
  if (const auto opens = arrays_in(head))
    return open_container(std::move(file), options, [&](const InputFile& input) {
      return open_arrays(input, opens, options);
    });
  if (head.starts_with("PK\x03\x04") || head.starts_with("PK\x05\x06"))
    return open_container(std::move(file), options,
                          [&](const InputFile& input) { return open_sigrok_file(input, options); });
  if (head.starts_with(mcap::kMagic))
    return open_container(std::move(file), options, open_recording);
  if (head.starts_with("RIFF") || head.starts_with("RF64") || head.starts_with("RIFX"))
    return open_container(std::move(file), options, open_wav_file);
  if (Gunzip::is_gzip(head)) return open_packed(path, head, options);
  if (is_vcd(head)) return open_vcd(path, options);
  if (TextInput::is_wide(head)) return open_delimited_text(path, options);
  if (head.find('\0') != std::string_view::npos)
    throw InputError(ExitStatus::kUnusableData, path, fmt::format("byte {}", head.find('\0') + 1),
                     "neither text nor a known capture",
                     "a libsigrok session (.sr), a recording (MCAP), WAV, MAT, HDF5, NumPy, a "
                     "value change dump, "
                     "or delimited text can be read; export it as CSV");
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
