// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/wav_file.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cstdio>

#include "plugin/sources/sample_rate.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/lazy/sndfile.hpp"

namespace airlatch {
namespace {

constexpr int kMostTracks = 64;

// Bytes that the `data` chunk promises, or 0 where it is not known; libsndfile itself reads what
// is there and keeps silent about what is missing.
std::uint64_t promised_bytes(const std::string& path, std::uint64_t& data_at) {
  std::FILE* file = std::fopen(path.c_str(), "rb");
  if (!file) return 0;
  std::array<unsigned char, 12> head;
  std::uint64_t promised = 0;
  const auto little = [](const unsigned char* p) {
    return std::uint32_t{p[0]} | std::uint32_t{p[1]} << 8 | std::uint32_t{p[2]} << 16 |
           std::uint32_t{p[3]} << 24;
  };
  if (std::fread(head.data(), 1, 12, file) == 12 &&
      std::equal(head.begin(), head.begin() + 4, "RIFF")) {
    std::array<unsigned char, 8> chunk;
    while (std::fread(chunk.data(), 1, 8, file) == 8) {
      const std::uint32_t size = little(chunk.data() + 4);
      if (std::equal(chunk.begin(), chunk.begin() + 4, "data")) {
        promised = size == 0xffffffffU ? 0 : size;
        data_at = static_cast<std::uint64_t>(std::ftell(file));
        break;
      }
      if (std::fseek(file, static_cast<long>(size) + (size & 1), SEEK_CUR) != 0) break;
    }
  }
  std::fclose(file);
  return promised;
}

class WavFile final : public Source {
 public:
  explicit WavFile(const std::string& path) : path_(path), file_(nullptr, lazy::sf_close) {
    SF_INFO info{};
    file_.reset(lazy::sf_open(path.c_str(), SFM_READ, &info));
    if (!file_)
      throw InputError(ExitStatus::kUnusableData, path, "header", "not a readable WAV",
                       "save it as PCM or float WAV");
    if (info.samplerate <= 0 || info.channels <= 0 || info.channels > kMostTracks)
      throw InputError(
          ExitStatus::kUnusableData, path, "header",
          fmt::format("{} tracks at {} Hz cannot be used", info.channels, info.samplerate),
          "record 1 to 64 tracks");
    frames_ = info.frames;
    std::uint64_t data_at = 0;
    const std::uint64_t promised = promised_bytes(path, data_at);
    struct stat about {};
    if (promised > 0 && ::stat(path.c_str(), &about) == 0 &&
        data_at + promised > static_cast<std::uint64_t>(about.st_size))
      damage_ =
          InputError(ExitStatus::kUnusableData, path, "data chunk",
                     fmt::format("cut short: {} of {} bytes are there",
                                 static_cast<std::uint64_t>(about.st_size) - data_at, promised),
                     "what is there was decoded; copy the file again for the rest")
              .what();
    if (frames_ == 0)
      throw InputError(ExitStatus::kUnusableData, path, "data chunk", "it holds no samples",
                       "record it again");
    const SampleClock clock = clock_of_rate(info.samplerate, path, "header");
    for (int c = 1; c <= info.channels; ++c)
      channels_.push_back({.name = fmt::format("CH{}", c), .clock = clock});
    turn_ = static_cast<std::size_t>(std::clamp(info.samplerate * kLargestLead_s, 64.0, 65536.0));
    interleaved_.resize(turn_ * channels_.size());
    values_.resize(channels_.size(), std::vector<float>(turn_));
  }

  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }

  bool next(SampleBlock& block) override {
    if (channel_ == channels_.size() || in_turn_ == 0) {
      first_ += static_cast<std::int64_t>(in_turn_);
      in_turn_ = static_cast<std::size_t>(
          lazy::sf_readf_float(file_.get(), interleaved_.data(), static_cast<sf_count_t>(turn_)));
      if (in_turn_ == 0) return false;
      for (std::size_t c = 0; c < channels_.size(); ++c)
        for (std::size_t k = 0; k < in_turn_; ++k)
          values_[c][k] = interleaved_[k * channels_.size() + c];
      channel_ = 0;
    }
    block = {.channel = channel_,
             .clock = channels_[channel_].clock,
             .first = first_,
             .values = std::span<const float>(values_[channel_]).first(in_turn_)};
    ++channel_;
    return true;
  }

  [[nodiscard]] std::string damage() const override { return damage_; }
  [[nodiscard]] double progress() const override {
    return static_cast<double>(first_) / static_cast<double>(frames_);
  }

 private:
  std::string path_;
  std::unique_ptr<SNDFILE, int (*)(SNDFILE*)> file_;
  std::vector<SourceChannel> channels_;
  sf_count_t frames_ = 0;
  std::size_t turn_ = 0, in_turn_ = 0, channel_ = 0;
  std::int64_t first_ = 0;
  std::vector<float> interleaved_;
  std::vector<std::vector<float>> values_;
  std::string damage_;
};

}  // namespace

std::unique_ptr<Source> open_wav_file(const std::string& path) {
  return std::make_unique<WavFile>(path);
}

}  // namespace airlatch
