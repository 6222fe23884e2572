// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/recording.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "airlatch/v1/sample.pb.h"
#include "plugin/sources/mcap_file.hpp"
#include "plugin/sources/recording_channels.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {
using mcap::Op;

class Recording final : public Source {
 public:
  explicit Recording(const std::string& path) : path_(path), file_(path), channels_(file_, path) {}

  [[nodiscard]] const std::vector<SourceChannel>& channels() const override {
    return channels_.all();
  }

  bool next(SampleBlock& block) override {
    while (silent_ < channels().size())
      if (channels_.silent(silent_++)) {
        block = SampleBlock{.channel = silent_ - 1};
        return true;
      }
    while (true) {
      while (!chunk_.empty()) {
        if (!next_of_chunk()) continue;
        block = block_;
        return true;
      }
      Op op{};
      if (ended_ || !file_.next(op)) return false;
      if (op == Op::kChunk) open_chunk();
      if (op == Op::kDataEnd) {
        whole_ = ended_ = true;
        return false;
      }
      if (take(op, file_.content())) {
        block = block_;
        return true;
      }
    }
  }

  [[nodiscard]] std::string damage() const override {
    if (!damage_.empty()) return damage_;
    if (whole_) return {};
    return fmt::format(
        "{}: the recording was cut before its end; what was recorded up to byte {} is used", path_,
        file_.position());
  }
  [[nodiscard]] double progress() const override {
    return file_.size() > 0
               ? static_cast<double>(file_.position()) / static_cast<double>(file_.size())
               : -1;
  }

 private:
  // What is left of a chunk lies in the file's record: the next is read when it is empty.
  void open_chunk() {
    const McapChunk chunk = open_mcap_chunk(file_.content());
    if (chunk.wrong) return damaged(chunk.wrong);
    if (!chunk.compression.empty()) return damaged("a chunk is compressed, which cannot be read");
    chunk_ = chunk.records;
  }

  void damaged(const char* what) {
    damage_ = fmt::format("{}: byte {}: {}; what was recorded before it is used", path_,
                          file_.position(), what);
    ended_ = true;
    chunk_ = {};
  }

  bool next_of_chunk() {
    mcap::Reader in(chunk_);
    const auto op = static_cast<Op>(in.get<std::uint8_t>());
    const std::string_view content = in.raw(in.get<std::uint64_t>());
    if (!in.good()) {
      damaged("a message is shorter than it says");
      return false;
    }
    chunk_ = in.rest();
    return take(op, content);
  }

  // One record; true where it was a block of samples, block_ from now on.
  bool take(Op op, std::string_view content) {
    if (op == Op::kChannel && !channels_.agrees(content))
      damaged("a channel is declared that was not known at the start, or as another one");
    if (op != Op::kMessage || ended_) return false;
    mcap::Reader message(content);
    const auto place = channels_.place_of(message.get<std::uint16_t>());
    (void)message.get<std::uint32_t>();
    (void)message.get<std::uint64_t>();
    (void)message.get<std::uint64_t>();
    if (!place || !message.good()) return false;
    if (take_samples(*place, message.rest())) return true;
    damaged("a block of samples makes no sense");
    return false;
  }

  bool take_samples(std::size_t channel, std::string_view data) {
    if (!message_.ParseFromArray(data.data(), static_cast<int>(data.size())) ||
        message_.values().empty())
      return false;
    block_ = SampleBlock{.channel = channel};
    block_.values = {message_.values().data(), static_cast<std::size_t>(message_.values_size())};
    if (message_.has_clock() && message_.clock().period_num_ns() > 0) {
      block_.clock = {message_.clock().start_ns(), message_.clock().period_num_ns(),
                      message_.clock().period_den()};
      block_.first = message_.first_index();
      return block_.sound();
    }
    block_.times_ns = {message_.times_ns().data(),
                       static_cast<std::size_t>(message_.times_ns_size())};
    return !block_.times_ns.empty() && block_.sound() &&
           std::all_of(block_.times_ns.begin(), block_.times_ns.end(), countable);
  }

  std::string path_;
  McapFile file_;
  RecordingChannels channels_;
  std::string damage_;
  std::string_view chunk_;  // what is left of the chunk in the file's record
  std::size_t silent_ = 0;  // channels that were asked whether they are
  bool ended_ = false, whole_ = false;
  v1::SampleBlock message_;
  SampleBlock block_;
};

}  // namespace

std::unique_ptr<Source> open_recording(const std::string& path) {
  return std::make_unique<Recording>(path);
}

}  // namespace airlatch
