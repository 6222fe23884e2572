// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/sigrok_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cstring>
#include <limits>
#include <map>
#include <optional>
#include <stdexcept>

#include "plugin/sources/sample_rate.hpp"
#include "plugin/sources/sigrok_metadata.hpp"
#include "plugin/sources/zip_file.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

static_assert(std::endian::native == std::endian::little, "samples are read as they lie");
constexpr std::uint64_t kWholeChunk = 4U << 20;  // libsigrok's own largest
constexpr std::size_t kWholeChannels = 8;        // more of them are streamed, to bound the memory

// One run of data entries: an analog channel, or the logic channels together.
class Stream {
 public:
  Stream(const ZipFile& zip, std::string what, std::size_t unit, bool hold_whole)
      : zip_(&zip), what_(std::move(what)), unit_(unit), hold_whole_(hold_whole) {}

  std::vector<const ZipFile::Entry*> chunks;
  std::string broken;  // why it ends before its entries do

  [[nodiscard]] std::uint64_t samples_announced() const {
    std::uint64_t bytes = 0;
    for (const auto* chunk : chunks) bytes += chunk->size;
    return bytes / unit_;
  }
  [[nodiscard]] const std::string& what() const { return what_; }
  [[nodiscard]] std::int64_t delivered() const { return delivered_; }

  // The next `n` samples where they lie, until the next call. None where they are not all in one
  // chunk that is in memory: read() then. Not for logic data.
  std::span<const float> look(std::size_t n) {
    const std::size_t from = open_next() && holds_ ? held_at_ / sizeof(float) : held_.size();
    if (held_.size() - from < n) return {};
    advance(n * sizeof(float));
    delivered_ += static_cast<std::int64_t>(n);
    return std::span<const float>(held_).subspan(from, n);
  }

  // Fills `into` with up to its size in whole samples; fewer only at the end. Bytes.
  std::size_t read(std::span<std::byte> into) {
    std::size_t filled = 0;
    while (filled < into.size()) {
      if (!open_next()) break;
      std::size_t got = 0;
      if (holds_) {
        got = std::min(into.size() - filled, held_bytes_ - held_at_);
        std::memcpy(into.data() + filled, held().data() + held_at_, got);
        advance(got);
      } else {
        got = reader_->read(into.subspan(filled));
        if (got < into.size() - filled) reader_.reset(), ++next_;
      }
      filled += got;
    }
    delivered_ += static_cast<std::int64_t>(filled / unit_);
    return filled;
  }

 private:
  // Makes sure that sound data are at hand: a chunk is checked to its end before any of it goes
  // out.
  bool open_next() {
    while (!holds_ && !reader_) {
      if (next_ >= chunks.size() || !broken.empty()) return false;
      const ZipFile::Entry& chunk = *chunks[next_];
      try {
        if (chunk.size % unit_ != 0)
          throw std::runtime_error("its size is not a whole number of samples");
        if (chunk.size == 0) {
          ++next_;
          continue;
        }
        if (hold_whole_ && chunk.size <= kWholeChunk) {
          held_bytes_ = chunk.size;
          held_.resize((chunk.size + sizeof(float) - 1) / sizeof(float));
          held_at_ = 0;
          holds_ = true;
          if (zip_->read_whole(chunk, held())) continue;
        }
        ZipFile::Reader reader = zip_->open(chunk);
        if (hold_whole_ && chunk.size <= kWholeChunk) {
          if (reader.read(held()) != chunk.size) throw std::runtime_error("shorter than announced");
        } else {
          std::vector<std::byte> scratch(1 << 18);
          while (reader.read(scratch) == scratch.size()) {
          }
          reader_.emplace(zip_->open(chunk));
        }
      } catch (const std::runtime_error& error) {
        holds_ = false;
        broken = fmt::format("entry {} is damaged ({})", chunk.name, error.what());
        return false;
      }
    }
    return true;
  }

  [[nodiscard]] std::span<std::byte> held() {
    return std::as_writable_bytes(std::span(held_)).first(held_bytes_);
  }
  void advance(std::size_t bytes) {
    held_at_ += bytes;
    if (held_at_ < held_bytes_) return;
    holds_ = false;
    ++next_;
  }

  const ZipFile* zip_;
  std::string what_;
  std::size_t unit_;
  bool hold_whole_;
  std::size_t next_ = 0;
  bool holds_ = false;  // a chunk, not yet handed out to its end
  std::size_t held_bytes_ = 0, held_at_ = 0;
  std::vector<float> held_;
  std::optional<ZipFile::Reader> reader_;
  std::int64_t delivered_ = 0;
};

// "analog-1-3-2" -> channel 3, chunk 2. `rest` follows the prefix.
bool numbers(const std::string& rest, int& first, int& second) {
  int used = 0;
  return std::sscanf(rest.c_str(), "%9d-%9d%n", &first, &second, &used) == 2 &&
         used == static_cast<int>(rest.size());
}

class SigrokFile final : public Source {
 public:
  SigrokFile(const std::string& path, const OpenOptions& options) : path_(path), zip_(path) {
    const ZipFile::Entry* version = zip_.find("version");
    const ZipFile::Entry* metadata = zip_.find("metadata");
    if (!version || !metadata)
      refuse(version ? "entry metadata" : "entry version",
             "a zip without this entry is not a libsigrok session",
             "name a session file, or unpack the zip and name the capture in it");
    const std::string number = text(*version);
    if (number != "1" && number != "2")
      refuse("entry version", fmt::format("version '{}' is not known", number.substr(0, 20)),
             "versions 1 and 2 can be read: save it again with libsigrok");
    try {
      about_ = parse_sigrok_metadata(text(*metadata));
    } catch (const std::invalid_argument& error) {
      refuse("entry metadata", error.what(), "the file is damaged or was not written by libsigrok");
    }
    const SampleClock clock = clock_by(options);
    const double rate_hz = 1 / clock.period_s();
    turn_ = static_cast<std::size_t>(std::clamp(rate_hz * kLargestLead_s, 64.0, 65536.0));
    for (std::size_t n = 0; n < about_.names.size(); ++n)
      channels_.push_back({.name = about_.names[n],
                           .clock = clock,
                           .logic = n < static_cast<std::size_t>(about_.probes)});
    if (about_.probes > 0 && about_.unitsize == 0)
      refuse("entry metadata", "unitsize is missing for the logic channels",
             "the file is damaged or was not written by libsigrok");
    if (about_.probes > 8 * about_.unitsize)
      refuse("entry metadata", "unitsize is too small for the logic channels",
             "the file is damaged or was not written by libsigrok");
    find_chunks();
  }

  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }

  bool next(SampleBlock& block) override {
    while (true) {
      if (!ready_.empty()) {
        block = ready_.back();
        ready_.pop_back();
        return true;
      }
      if (ended_) return false;
      fill();
    }
  }

  [[nodiscard]] std::string damage() const override { return damage_; }
  // A chunk of every channel.
  [[nodiscard]] std::size_t values_at_once() const override {
    std::uint64_t values = 0;
    for (const Stream& stream : streams_)
      if (!stream.chunks.empty()) values += stream.chunks.front()->size / sizeof(float);
    return values;
  }
  [[nodiscard]] double progress() const override {
    return total_ > 0 ? static_cast<double>(position_) / static_cast<double>(total_) : 1;
  }

 private:
  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, path_, place, what, mend);
  }

  [[nodiscard]] SampleClock clock_by(const OpenOptions& options) const {
    if (options.rate_hz != 0) return clock_of_rate(options.rate_hz, path_, "--rate");
    if (about_.rate_num == 0)
      refuse("entry metadata", "the sampling rate is missing or 0", "give it with --rate HZ");
    if (about_.rate_num < about_.rate_den)
      refuse("entry metadata", "a rate below 1 Hz cannot be kept in this format",
             "give the true rate with --rate HZ");
    // As it is written, not to the millionth.
    static_cast<void>(
        clock_of_rate(static_cast<double>(about_.rate_num) / static_cast<double>(about_.rate_den),
                      path_, "entry metadata"));
    return SampleClock::of_rate(about_.rate_num, about_.rate_den);
  }

  std::string text(const ZipFile::Entry& entry) const {
    if (entry.size > SigrokMetadata::kLargest)
      refuse("entry " + entry.name, "it is far too large", "the file is damaged");
    std::vector<std::byte> bytes(entry.size);
    try {
      if (!zip_.read_whole(entry, bytes)) {
        ZipFile::Reader reader = zip_.open(entry);
        bytes.resize(entry.size + 1);
        bytes.resize(reader.read(bytes));
      }
    } catch (const std::runtime_error& error) {
      refuse("entry " + entry.name, fmt::format("it is damaged ({})", error.what()),
             "copy the file again from where it was recorded");
    }
    std::string out(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    while (!out.empty() && (out.back() == '\n' || out.back() == '\r' || out.back() == ' '))
      out.pop_back();
    return out;
  }

  using Chunks = std::map<int, const ZipFile::Entry*>;  // by their numbers
  struct Found {
    std::map<int, Chunks> analog;  // by their channels
    Chunks logic;
  };

  void find_chunks() {
    Found found = find_entries();
    const bool hold_whole = channels_.size() <= kWholeChannels;
    if (about_.probes > 0) {
      streams_.emplace_back(zip_, "the logic data", static_cast<std::size_t>(about_.unitsize),
                            hold_whole);
      line_up(streams_.back(), found.logic);
    }
    for (int n = about_.probes + 1; n <= about_.probes + about_.analog; ++n) {
      streams_.emplace_back(zip_, channels_[static_cast<std::size_t>(n - 1)].name, sizeof(float),
                            hold_whole);
      line_up(streams_.back(), found.analog[n]);
    }
    compare_lengths();
  }

  // The entries that hold samples; of equal names the first one counts.
  [[nodiscard]] Found find_entries() const {
    Found found;
    const std::string capture = about_.capturefile.empty() ? "logic-1" : about_.capturefile;
    for (const ZipFile::Entry& entry : zip_.entries()) {
      if (entry.name.starts_with("analog-")) {
        add_analog(found, entry);
      } else if (about_.probes > 0 && entry.name == capture) {
        found.logic.emplace(1, &entry);
      } else if (about_.probes > 0 && entry.name.starts_with(capture + "-")) {
        const int chunk = std::atoi(entry.name.c_str() + capture.size() + 1);
        if (chunk < 1)
          refuse("entry " + entry.name, "its name has no chunk number",
                 "the file is damaged or was not written by libsigrok");
        found.logic.emplace(chunk, &entry);
      }
    }
    return found;
  }

  void add_analog(Found& found, const ZipFile::Entry& entry) const {
    int channel = 0, chunk = 0;
    if (!entry.name.starts_with("analog-1-") || !numbers(entry.name.substr(9), channel, chunk))
      refuse("entry " + entry.name, "its name has no channel and chunk number",
             "the file is damaged or was not written by libsigrok");
    if (channel <= about_.probes || channel > about_.probes + about_.analog)
      refuse("entry " + entry.name, "it belongs to no channel of the metadata",
             "the metadata's totals are wrong: the file is damaged");
    found.analog[channel].emplace(chunk, &entry);
  }

  // Chunks count from 1; a stream ends before the first one that is missing.
  void line_up(Stream& stream, const Chunks& found) {
    int due = 1;
    for (const auto& [number, entry] : found) {
      if (number != due) break;
      stream.chunks.push_back(entry);
      ++due;
    }
    if (found.empty())
      note(fmt::format("{} has no data", stream.what()));
    else if (static_cast<std::size_t>(due - 1) != found.size())
      note(fmt::format("chunk {} of {} is missing", due, stream.what()));
  }

  void compare_lengths() {
    std::uint64_t shortest = std::numeric_limits<std::uint64_t>::max();
    for (const Stream& stream : streams_) {
      const std::uint64_t n = stream.samples_announced();
      total_ = std::max(total_, n);
      if (n > 0) shortest = std::min(shortest, n);
    }
    if (total_ == 0)
      refuse("", "it holds no samples",
             zip_.cut_short().empty() ? "record it again" : "the file is cut short: copy it again");
    if (!zip_.cut_short().empty()) note(zip_.cut_short());
    if (shortest == total_) return;
    const auto first = std::find_if(streams_.begin(), streams_.end(), [&](const Stream& s) {
      return s.samples_announced() == shortest;
    });
    note(fmt::format("{} ends after {} samples, others go on to {}", first->what(), shortest,
                     total_));
  }

  void note(const std::string& what) {
    if (!damage_.empty()) return;  // only the first one is reported
    damage_ = InputError(ExitStatus::kUnusableData, path_, "", what,
                         "what is sound was decoded; copy or record the file again for the rest")
                  .what();
  }

  // One turn: the next stretch of every channel.
  void fill() {
    stretches_.resize(channels_.size());
    channel_ended_.resize(channels_.size());
    std::size_t first_channel = 0;
    bool any = false;
    for (Stream& stream : streams_) {
      const bool is_logic = channels_[first_channel].logic;
      const std::size_t unit = is_logic ? static_cast<std::size_t>(about_.unitsize) : sizeof(float);
      const std::int64_t first = stream.delivered();
      std::size_t samples = 0;
      if (is_logic) {
        raw_.resize(turn_ * unit);
        samples = stream.read(raw_) / unit;
        const bool early = samples < turn_ && stream.samples_announced() < total_;
        for (std::size_t bit = 0; bit < static_cast<std::size_t>(about_.probes); ++bit) {
          auto& values = stretches_[bit];
          values.resize(turn_);
          for (std::size_t k = 0; k < samples; ++k)
            values[k] = (std::to_integer<unsigned>(raw_[k * unit + bit / 8]) >> (bit % 8) & 1U)
                            ? 1.0F
                            : 0.0F;
          hand_out(bit, first, std::span<const float>(values).first(samples));
          if (early) end(bit);
        }
        first_channel += static_cast<std::size_t>(about_.probes);
      } else {
        std::span<const float> here = stream.look(turn_);
        if (here.empty()) {
          auto& values = stretches_[first_channel];
          values.resize(turn_);
          const std::size_t bytes = stream.read(std::as_writable_bytes(std::span(values)));
          here = std::span<const float>(values).first(bytes / unit);
        }
        samples = here.size();
        hand_out(first_channel, first, here);
        if (samples < turn_ && stream.samples_announced() < total_) end(first_channel);
        ++first_channel;
      }
      any = any || samples > 0;
      position_ = std::max(position_, static_cast<std::uint64_t>(stream.delivered()));
      if (!stream.broken.empty()) note(stream.broken);
    }
    std::reverse(ready_.begin(), ready_.end());
    // Behind the first damage nothing more is handed out: other channels alone would mislead.
    const bool broken = std::any_of(streams_.begin(), streams_.end(),
                                    [](const Stream& s) { return !s.broken.empty(); });
    ended_ = !any || broken;
  }

  void hand_out(std::size_t channel, std::int64_t first, std::span<const float> values) {
    if (values.empty()) return;
    ready_.push_back(
        {.channel = channel, .clock = channels_[channel].clock, .first = first, .values = values});
  }

  // Others go on.
  void end(std::size_t channel) {
    if (channel_ended_[channel]) return;
    channel_ended_[channel] = true;
    ready_.push_back({.channel = channel});
  }

  std::string path_;
  ZipFile zip_;
  SigrokMetadata about_;
  std::vector<SourceChannel> channels_;
  std::vector<Stream> streams_;
  std::size_t turn_ = 0;
  std::uint64_t total_ = 0, position_ = 0;
  std::vector<std::byte> raw_;
  std::vector<std::vector<float>> stretches_;
  std::vector<SampleBlock> ready_;
  std::vector<bool> channel_ended_;
  bool ended_ = false;
  std::string damage_;
};

}  // namespace

std::unique_ptr<Source> open_sigrok_file(const std::string& path, const OpenOptions& options) {
  return std::make_unique<SigrokFile>(path, options);
}

}  // namespace airlatch
