// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/recording_channels.hpp"

#include <fmt/format.h>

#include <cstdlib>

#include "plugin/system/input_error.hpp"

namespace airlatch {
using mcap::Op;
namespace {
constexpr std::string_view kTopic = "/samples/", kOwn = "airlatch ";
}  // namespace

RecordingChannels::RecordingChannels(McapFile& file, const std::string& path) : path_(path) {
  if (file.go_to_summary()) take_summary(file);
  if (channels_.empty()) {
    places_.clear();
    counted_ = false;
    file.go_to_start();
    scan(file);
  }
  file.go_to_start();
  if (channels_.empty())
    throw InputError(ExitStatus::kUnusableData, path, "",
                     "none of its channels holds airlatch.v1.SampleBlock",
                     "name a recording of airlatch, or turn it into text");
}

std::optional<std::size_t> RecordingChannels::place_of(std::uint16_t id) const {
  const auto at = places_.find(id);
  return at == places_.end() ? std::nullopt : std::optional(at->second);
}

bool RecordingChannels::silent(std::size_t place) const {
  return counted_ && messages_[place] == 0;
}

std::optional<RecordingChannels::Declared> RecordingChannels::read(std::string_view declaration) {
  mcap::Reader in(declaration);
  Declared out;
  out.id = in.get<std::uint16_t>();
  (void)in.get<std::uint16_t>();  // the schema: the topic says what it is
  const std::string_view topic = in.string(), encoding = in.string();
  mcap::Reader about(in.string());
  if (!in.good()) return std::nullopt;
  out.samples = encoding == "protobuf" && topic.starts_with(kTopic);
  if (!out.samples) return out;
  out.channel.name = std::string(topic.substr(kTopic.size()));
  while (!about.empty() && about.good()) {
    const std::string_view key = about.string(), value = about.string();
    if (key == "unit") out.channel.unit = std::string(value);
    if (key == "logic") out.channel.logic = value == "1";
    if (key == "rate_hz")  // 0: each value has its own time
      out.channel.clock =
          SampleClock::of_rate_hz(std::strtod(std::string(value).c_str(), nullptr)).value_or(SampleClock{});
  }
  return out;
}

// A channel that is declared again, under the same number or another, is the same one.
void RecordingChannels::declare(std::string_view declaration) {
  const auto declared = read(declaration);
  if (!declared || !declared->samples || places_.contains(declared->id)) return;
  const auto [same, is_new] =
      by_name_.try_emplace({declared->channel.name, declared->channel.unit}, channels_.size());
  places_.emplace(declared->id, same->second);
  if (!is_new) return;
  channels_.push_back(declared->channel);
  messages_.push_back(0);
}

bool RecordingChannels::agrees(std::string_view declaration) const {
  const auto declared = read(declaration);
  if (!declared || !declared->samples) return true;
  const auto place = place_of(declared->id);
  return place && channels_[*place].name == declared->channel.name;
}

void RecordingChannels::take_summary(McapFile& file) {
  Op op{};
  std::string statistics;
  while (file.next(op) && op != Op::kFooter) {
    if (op == Op::kChannel) declare(file.content());
    if (op == Op::kStatistics) statistics = file.content();
    if (op == Op::kChunkIndex) {
      mcap::Reader in(file.content());
      for (int k = 0; k < 4; ++k) (void)in.get<std::uint64_t>();
      (void)in.string();
      (void)in.get<std::uint64_t>();
      refuse_compressed(in.string());
    }
  }
  constexpr std::size_t kBeforeCounts = 8 + 2 + 4 + 4 + 4 + 4 + 8 + 8;
  mcap::Reader in(statistics);
  (void)in.raw(kBeforeCounts);
  mcap::Reader counts(in.string());
  counted_ = !statistics.empty() && in.good();
  while (!counts.empty() && counts.good()) {
    const auto place = place_of(counts.get<std::uint16_t>());
    const auto n = counts.get<std::uint64_t>();
    if (place && n > 0) messages_[*place] = n;
  }
}

void RecordingChannels::scan(McapFile& file) {
  bool own = false;
  Op op{};
  while (file.next(op) && op != Op::kDataEnd && op != Op::kFooter) {
    if (op == Op::kHeader) {
      mcap::Reader in(file.content());
      (void)in.string();
      own = in.string().starts_with(kOwn);
    } else if (op == Op::kChannel) {
      declare(file.content());
    } else if (op == Op::kMessage) {
      count(file.content());
    } else if (op == Op::kChunk) {
      if (own && !channels_.empty()) return;
      const McapChunk chunk = open_mcap_chunk(file.content());
      if (chunk.wrong) break;
      refuse_compressed(chunk.compression);
      look_into(chunk.records);
    }
  }
  counted_ = true;
}

void RecordingChannels::look_into(std::string_view chunk_records) {
  mcap::Reader in(chunk_records);
  while (!in.empty() && in.good()) {
    const auto op = static_cast<Op>(in.get<std::uint8_t>());
    const std::string_view content = in.raw(in.get<std::uint64_t>());
    if (!in.good()) return;
    if (op == Op::kChannel) declare(content);
    if (op == Op::kMessage) count(content);
  }
}

void RecordingChannels::count(std::string_view message) {
  mcap::Reader in(message);
  if (const auto place = place_of(in.get<std::uint16_t>())) ++messages_[*place];
}

void RecordingChannels::refuse_compressed(std::string_view compression) const {
  if (compression.empty()) return;
  throw InputError(
      ExitStatus::kUnusableData, path_, "",
      fmt::format("chunks compressed with '{}' cannot be read", compression.substr(0, 20)),
      "write it without compression");
}

}  // namespace airlatch
