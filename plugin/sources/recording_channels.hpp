// SPDX-License-Identifier: GPL-3.0-or-later
// recording_channels.hpp: which channels an MCAP file has, known before its first sample is read.
//
// In    the file's summary where there is one; else its records, chunks looked into, to the end.
//       (This program's own recordings declare all before the first chunk: one that was cut is not
//       read twice.)
// Out   the channels that hold airlatch.v1.SampleBlock, and for a channel's number in the file,
//       which may be any, its place among them or none.
#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "plugin/sources/mcap_file.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

class RecordingChannels {
 public:
  // Goes back to the file's start. Throws InputError where the channels cannot be known.
  RecordingChannels(McapFile& file, const std::string& path);
  [[nodiscard]] const std::vector<SourceChannel>& all() const { return channels_; }
  [[nodiscard]] std::optional<std::size_t> place_of(std::uint16_t id) const;
  // Whether the file says that a channel has no samples.
  [[nodiscard]] bool silent(std::size_t place) const;
  // A declaration met while reading: false where it contradicts what was known at the start.
  [[nodiscard]] bool agrees(std::string_view declaration) const;

 private:
  struct Declared {
    std::uint16_t id = 0;
    bool samples = false;
    SourceChannel channel = {};
  };
  static std::optional<Declared> read(std::string_view declaration);
  void declare(std::string_view declaration);
  void take_summary(McapFile& file);
  void scan(McapFile& file);
  void look_into(std::string_view chunk_records);
  void count(std::string_view message);
  void refuse_compressed(std::string_view compression) const;

  std::string path_;
  std::vector<SourceChannel> channels_;
  std::map<std::pair<std::string, std::string>, std::size_t> by_name_;  // name and unit
  std::map<std::uint16_t, std::size_t> places_;
  std::vector<std::uint64_t> messages_;  // of each channel
  bool counted_ = false;
};

}  // namespace airlatch
