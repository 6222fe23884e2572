// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/recording.hpp"

#include <fmt/format.h>
#include <libdeflate.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>

#include "airlatch/v1/sample.pb.h"
#include "plugin/sources/mcap_records.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {
using mcap::Op;

constexpr std::uint64_t kLargestRecord = std::uint64_t{1} << 28;

class Recording final : public Source {
 public:
  explicit Recording(const InputFile& file) : path_(file.path()), file_(file.stream()) {
    std::string magic(mcap::kMagic.size(), '\0');
    if (!file_ || std::fread(magic.data(), 1, magic.size(), file_.get()) != magic.size() ||
        magic != mcap::kMagic)
      throw refuse("this is not an MCAP file", "name a recording");
    std::fseek(file_.get(), 0, SEEK_END);
    size_ = std::ftell(file_.get());
    std::fseek(file_.get(), static_cast<long>(magic.size()), SEEK_SET);
    // Channels are declared before the first chunk.
    while (channels_.empty() || !first_chunk_) {
      Op op{};
      if (!next_record(op)) break;
      if (op == Op::kChannel) declare(record_);
      if (op == Op::kChunk) {
        open_chunk();
        first_chunk_ = true;
      }
      if (op == Op::kDataEnd) {
        whole_ = ended_ = true;
        break;
      }
    }
    if (channels_.empty())
      throw refuse("none of its channels holds airlatch.v1.SampleBlock",
                   "name a recording of airlatch, or turn it into text");
  }

  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }

  bool next(SampleBlock& block) override {
    while (true) {
      while (!chunk_.empty()) {
        if (!next_message()) continue;
        block = SampleBlock{.channel = channel_};
        block.values = {message_.values().data(), static_cast<std::size_t>(message_.values_size())};
        if (evenly_) {
          block.clock = {message_.clock().start_ns(), message_.clock().period_num_ns(),
                         message_.clock().period_den()};
          block.first = message_.first_index();
        } else {
          block.times_ns = {message_.times_ns().data(),
                            static_cast<std::size_t>(message_.times_ns_size())};
        }
        return true;
      }
      Op op{};
      if (ended_ || !next_record(op)) return false;
      if (op == Op::kChunk) open_chunk();
      if (op == Op::kDataEnd) {
        whole_ = ended_ = true;
        return false;
      }
    }
  }

  [[nodiscard]] std::string damage() const override {
    if (!damage_.empty()) return damage_;
    if (whole_) return {};
    return fmt::format(
        "{}: the recording was cut before its end; what was recorded up to byte {} is used", path_,
        good_to_);
  }
  [[nodiscard]] double progress() const override {
    return size_ > 0 ? static_cast<double>(good_to_) / static_cast<double>(size_) : -1;
  }

 private:
  InputError refuse(const std::string& what, const std::string& mend) const {
    return {ExitStatus::kUnusableData, path_, fmt::format("byte {}", good_to_), what, mend};
  }

  // The next whole record into record_; false at the end or where the file was cut.
  bool next_record(Op& op) {
    std::string head(mcap::kRecordHead, '\0');
    if (std::fread(head.data(), 1, head.size(), file_.get()) != head.size()) return false;
    mcap::Reader reader(head);
    op = static_cast<Op>(reader.get<std::uint8_t>());
    const auto length = reader.get<std::uint64_t>();
    if (length > kLargestRecord || static_cast<long>(length) > size_ - std::ftell(file_.get()))
      return false;
    if (length > record_.capacity()) {  // not twice the room: chunks are nearly alike
      record_ = {};
      record_.reserve(length + length / 8);
    }
    record_.resize(length);
    if (std::fread(record_.data(), 1, length, file_.get()) != length) return false;
    good_to_ = std::ftell(file_.get());
    return true;
  }

  void declare(std::string_view content) {
    mcap::Reader in(content);
    const auto id = in.get<std::uint16_t>();
    (void)in.get<std::uint16_t>();  // the schema: the topic says what it is
    const std::string_view topic = in.string(), encoding = in.string();
    mcap::Reader about(in.string());
    if (!in.good() || encoding != "protobuf" || !topic.starts_with("/samples/")) return;
    SourceChannel channel;
    channel.name = std::string(topic.substr(9));
    while (!about.empty() && about.good()) {
      const std::string_view key = about.string(), value = about.string();
      if (key == "unit") channel.unit = std::string(value);
      if (key == "logic") channel.logic = value == "1";
      if (key == "rate_hz")
        if (const double rate = std::strtod(std::string(value).c_str(), nullptr); rate >= 1)
          channel.clock = SampleClock::of_rate(std::llround(rate));
    }
    if (!ids_.emplace(id, channels_.size()).second) return;
    channels_.push_back(std::move(channel));
  }

  // What is left of a chunk lies in record_: the next is read when it is empty.
  void open_chunk() {
    mcap::Reader in(record_);
    (void)in.get<std::uint64_t>();
    (void)in.get<std::uint64_t>();
    (void)in.get<std::uint64_t>();
    const auto expected = in.get<std::uint32_t>();
    const std::string_view compression = in.string();
    const std::string_view records = in.raw(in.get<std::uint64_t>());
    if (!in.good()) return damaged("a chunk is shorter than it says");
    if (!compression.empty())
      throw refuse(fmt::format("chunks compressed with {} cannot be read", compression),
                   "record it without compression");
    const std::uint32_t is = libdeflate_crc32(0, records.data(), records.size());
    if (expected != 0 && is != expected) return damaged("a chunk's CRC is wrong");
    chunk_ = records;
  }

  void damaged(const char* what) {
    damage_ =
        fmt::format("{}: byte {}: {}; what was recorded before it is used", path_, good_to_, what);
    ended_ = true;
    chunk_ = {};
  }

  // One record of the chunk; true where it was a block of samples.
  bool next_message() {
    mcap::Reader in(chunk_);
    const auto op = static_cast<Op>(in.get<std::uint8_t>());
    const std::string_view content = in.raw(in.get<std::uint64_t>());
    if (!in.good()) {
      damaged("a message is shorter than it says");
      return false;
    }
    chunk_ = in.rest();
    if (op == Op::kChannel) declare(content);
    if (op != Op::kMessage) return false;
    mcap::Reader message(content);
    const auto id = message.get<std::uint16_t>();
    (void)message.get<std::uint32_t>();
    (void)message.get<std::uint64_t>();
    (void)message.get<std::uint64_t>();
    const auto at = ids_.find(id);
    if (at == ids_.end()) return false;
    const std::string_view data = message.rest();
    evenly_ = message_.ParseFromArray(data.data(), static_cast<int>(data.size())) &&
              message_.has_clock() && message_.clock().period_num_ns() > 0 &&
              message_.clock().period_den() > 0;
    if (message_.values().empty() ||
        (!evenly_ && message_.times_ns_size() != message_.values_size())) {
      damaged("a block of samples makes no sense");
      return false;
    }
    channel_ = at->second;
    return true;
  }

  std::string path_;
  InputFile::Stream file_;
  long size_ = 0, good_to_ = 0;
  std::vector<SourceChannel> channels_;
  std::map<std::uint16_t, std::size_t> ids_;
  std::string record_, damage_;
  std::string_view chunk_;  // what is left of the chunk in record_
  bool first_chunk_ = false, ended_ = false, whole_ = false;
  std::size_t channel_ = 0;
  v1::SampleBlock message_;
  bool evenly_ = false;
};

}  // namespace

std::unique_ptr<Source> open_recording(const InputFile& file) {
  return std::make_unique<Recording>(file);
}

}  // namespace airlatch
